"""Makes journal lines: numbered, chained, with the card keys that each one changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import msgspec

from consult import digest
from consult.access import Actor
from consult.events import Event
from consult.models import Case, JournalEntry

LATE_AFTER = timedelta(minutes=2)


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


def append(case: Case, lines: list[Line], now: datetime) -> list[JournalEntry]:
    """Number and chain the lines, move the case's `seq` and `head` (not saved here), write them in one statement."""
    rows = [_row(case, line, now) for line in lines]
    for row in rows:
        row.answered = case.seq
    if len(rows) > 1:
        return JournalEntry.objects.bulk_create(rows)
    for row in rows:
        row.save(force_insert=True)
    return rows


def _row(case: Case, line: Line, now: datetime) -> JournalEntry:
    case.seq += 1
    data = digest.plain(line.event)
    if line.clock_offset_s is not None:
        data["clock_offset_s"] = line.clock_offset_s
    row = JournalEntry(
        agency_id=case.agency_id,
        case=case,
        seq=case.seq,
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
    row.digest = case.head = digest.chained_digest(case.head, covered(row, case.uid, data, line.changes))
    return row


def covered(row: JournalEntry, case: UUID, data: object, changes: object) -> dict[str, Any]:
    """What a line's digest covers: everything that it says, but not its place in the database."""
    return {
        "case": str(case),
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
