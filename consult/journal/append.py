"""Makes journal lines: numbered, chained, with the card keys that each one changed.

A journal is a case's, or an agency's own for what happens in no case; either row keeps its last number and digest.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

import msgspec
from django.db.models import QuerySet

from consult import statements
from consult.events import Event
from consult.models import Agency, Case, JournalEntry
from consult.state.parts import Author

LATE_AFTER = timedelta(minutes=2)
EPOCH, MICROSECOND = datetime(1970, 1, 1, tzinfo=UTC), timedelta(microseconds=1)
Journal = Case | Agency


@dataclass(slots=True)
class Line:
    """One entry before it is numbered: the event, when it happened, the card keys it changed, whose id it carries.

    `clock_offset_s` is how far its sender's clock was behind: it stands beside the times, which are kept as sent.
    """

    event: Event
    at: datetime
    changes: dict[str, Any]
    by: Author | None = None
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
    rows = chain(journal, lines, now)
    statements.together(rows)
    return rows


def chain(journal: Journal, lines: list[Line], now: datetime) -> list[JournalEntry]:
    """The rows of the lines, numbered and chained; moves the journal's `seq` and `head`, and writes nothing."""
    answered = journal.seq + len(lines)
    return [_row(journal, line, now, answered) for line in lines]


def _row(journal: Journal, line: Line, now: datetime, answered: int) -> JournalEntry:
    journal.seq += 1
    row = JournalEntry(
        agency_id=journal.agency_id if isinstance(journal, Case) else journal.pk,
        case_id=journal.pk if isinstance(journal, Case) else None,
        seq=journal.seq,
        kind=line.event.kind,
        version=line.event.version,
        at=line.at,
        received_at=now,
        late=line.late,
        by_id=UUID(line.by.id) if line.by else None,
        by_name=line.by.name if line.by else "",
        by_role=line.by.role if line.by else "",
        data=_data(line),
        changes=msgspec.json.encode(line.changes).decode(),
        entry=line.entry,
        content=line.content,
        subject=line.subject,
        answered=answered,
    )
    row.digest = journal.head = chained(journal.head, row, journal)
    return row


def _data(line: Line) -> str:
    text = msgspec.json.encode(line.event).decode()
    if line.clock_offset_s is None:
        return text
    more = f'"clock_offset_s":{line.clock_offset_s}}}'
    return f"{{{more}" if text == "{}" else f"{text[:-1]},{more}"


def chained(before: str, row: JournalEntry, journal: Journal) -> str:
    """The digest of a line that also covers the digest `before` it (hex, empty for the first): docs/journal.md."""
    texts = [text.encode() for text in covered(row, journal)]
    told = b"".join(b"%d:%d:%s\n" % (place, len(text), text) for place, text in enumerate(texts, start=1))
    return hashlib.sha256(bytes.fromhex(before) + told).hexdigest()


def covered(row: JournalEntry, journal: Journal) -> list[str]:
    """What the digest covers: every column of the line, as text, in the order of docs/journal.md."""
    columns = (
        " ".join(*name_of(journal).items()),
        row.seq,
        row.kind,
        row.version,
        (row.at - EPOCH) // MICROSECOND,
        (row.received_at - EPOCH) // MICROSECOND,
        int(row.late),
        row.by_id,
        row.by_name,
        row.by_role,
        row.data,
        row.changes,
        row.entry,
        row.content,
        row.subject,
        row.answered,
    )
    return ["" if column is None else str(column) for column in columns]


def name_of(journal: Journal) -> dict[str, str]:
    """Whose journal it is: `case` or `agency`, with its id."""
    return {"case": str(journal.uid)} if isinstance(journal, Case) else {"agency": str(journal.pk)}
