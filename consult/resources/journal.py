"""The journal: its lines, and whether it is as it was written."""

from __future__ import annotations

import msgspec
from msgspec import Struct

from consult.models import JournalEntry
from consult.resources.page import Page
from dosing.ground.kinds import Id, Time


class WrittenBy(Struct, frozen=True):
    """Who made an entry, and in which role."""

    name: str
    role: str


class JournalLine(Struct, frozen=True, kw_only=True):
    """One line of a case's journal; ``data`` is what happened, by ``kind``, and ``entry`` the id of what was sent."""

    seq: int
    kind: str
    at: Time
    received_at: Time
    late: bool
    by: WrittenBy | None
    entry: Id | None
    data: msgspec.Raw
    digest: str


class JournalPage(Page[JournalLine], frozen=True):
    """Lines by number, without gaps."""


class Fault(Struct, frozen=True, kw_only=True):
    """What is not as it was written: a line of a case or of the agency's own journal, or the seals from a line on."""

    what: str
    case: Id | None = None
    agency: Id | None = None
    seq: int | None = None
    seals_line: int | None = None


class CheckedTo(Struct, frozen=True):
    """Up to when the journal was read, and how much of it."""

    at: Time
    cases: int
    entries: int


class Since(Struct, frozen=True):
    """How many cases were read again, since something was written in them after the last run."""

    cases: int


class Verified(Struct, frozen=True, kw_only=True):
    """Whether the journal is as it was written: by the last background run and what came since, or read just now."""

    intact: bool
    first_fault: Fault | None
    checked_to: CheckedTo
    last_run_at: Time | None = None
    since: Since | None = None


def line(row: JournalEntry) -> JournalLine:
    """One line of the journal."""
    return JournalLine(
        seq=row.seq,
        kind=row.kind,
        at=row.at,
        received_at=row.received_at,
        late=row.late,
        by=WrittenBy(row.by_name, row.by_role) if row.by_name else None,
        entry=str(row.entry) if row.entry else None,
        data=msgspec.Raw(row.data.encode()),
        digest=row.digest,
    )
