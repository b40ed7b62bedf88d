"""Makes journal lines: numbered, chained, with the card keys that each one changed.

A journal is a case's, or an agency's own for what happens in no case; either row keeps its last number and digest.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import msgspec
from django.db.models import QuerySet

from consult import digest
from consult.access import Actor
from consult.events import Event
from consult.models import Agency, Case, JournalEntry

LATE_AFTER = timedelta(minutes=2)
Journal = Case | Agency


@dataclass(slots=True)
class Line:
    """One entry before it is numbered: the event, when it happened, the card keys it changed, whose id it carries.

    `clock_offset_s` is how far its sender's clock was behind: it stands beside the times, which are kept as sent.
    """

    event: Event
    at: datetime
    changes: dict[str, Any]
    actor: Actor | None = None
    entry: UUID | None = None
    content: str = ""
    subject: int | None = None
    late: bool = False
    clock_offset_s: int | None = None


def lines_of(journal: Journal) -> QuerySet[JournalEntry]:
    """The lines of a case's journal, or of an agency's own."""
    if isinstance(journal, Case):
        return JournalEntry.objects.filter(case=journal)
    return JournalEntry.objects.filter(agency=journal, case=None)


def append(journal: Journal, lines: list[Line], now: datetime) -> list[JournalEntry]:
    """Number and chain the lines, move the journal's `seq` and `head` (not saved here), write them in one statement."""
    rows = [_row(journal, line, now) for line in lines]
    for row in rows:
        row.answered = journal.seq
    if len(rows) > 1:
        return JournalEntry.objects.bulk_create(rows)
    for row in rows:
        row.save(force_insert=True)
    return rows


def _row(journal: Journal, line: Line, now: datetime) -> JournalEntry:
    journal.seq += 1
    data = digest.plain(line.event)
    if line.clock_offset_s is not None:
        data["clock_offset_s"] = line.clock_offset_s
    row = JournalEntry(
        agency_id=journal.agency_id if isinstance(journal, Case) else journal.pk,
        case=journal if isinstance(journal, Case) else None,
        seq=journal.seq,
        kind=line.event.kind,
        at=line.at,
        received_at=now,
        late=line.late,
        by_id=line.actor.membership if line.actor else None,
        by_name=line.actor.name if line.actor else "",
        by_role=line.actor.role if line.actor else "",
        data=msgspec.json.encode(data).decode(),
        changes=msgspec.json.encode(line.changes).decode(),
        entry=line.entry,
        content=line.content,
        subject=line.subject,
    )
    row.digest = journal.head = digest.chained_digest(journal.head, covered(row, journal, data, line.changes))
    return row


def covered(row: JournalEntry, journal: Journal, data: object, changes: object) -> dict[str, Any]:
    """What a line's digest covers: everything that it says, but not its place in the database."""
    return {
        **name_of(journal),
        "seq": row.seq,
        "kind": row.kind,
        "at": row.at.timestamp(),
        "received_at": row.received_at.timestamp(),
        "late": row.late,
        "by": [row.by_name, row.by_role],
        "data": data,
        "changes": changes,
        "content": row.content,
        "entry": str(row.entry) if row.entry else None,
    }


def name_of(journal: Journal) -> dict[str, str]:
    """Whose journal it is: `case` or `agency`, with its id."""
    return {"case": str(journal.uid)} if isinstance(journal, Case) else {"agency": str(journal.pk)}
