"""Reads a case's journal back as the entries that its fold takes, whatever version they were written in."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

import msgspec

from consult import events
from consult.case.fold.entry import Entry
from consult.clock import put_right
from consult.events import Event
from consult.models import Case, JournalEntry
from consult.state.parts import Author

KINDS: Mapping[str, type[Event]] = {
    event.kind: event
    for event in vars(events).values()
    if isinstance(event, type) and issubclass(event, Event) and event.kind
}
Raised = dict[str, object]
# From (kind, version) to what the next version of it holds; each is applied in turn until the newest is reached.
UP_CASTS: Mapping[tuple[str, int], Callable[[Raised], Raised]] = {}


def entries_of(case: Case) -> Iterator[tuple[JournalEntry, Entry]]:
    """The lines of a case's journal, oldest first, each with the entry that it holds."""
    for row in JournalEntry.objects.filter(case=case).order_by("seq").iterator(chunk_size=500):
        yield row, entry_of(row)


def events_of(case: Case, kinds: Iterable[type[Event]]) -> Iterator[Event]:
    """What the lines of these kinds hold, oldest first."""
    lines = JournalEntry.objects.filter(case=case, kind__in=[each.kind for each in kinds]).order_by("seq")
    for line in lines.values_list("kind", "version", "data").iterator(chunk_size=500):
        yield event_of(*line)


def entry_of(row: JournalEntry) -> Entry:
    """The entry of one line, with its time put right by the sender's clock; raises msgspec.DecodeError."""
    by = Author(str(row.by_id), row.by_name, row.by_role) if row.by_id else None
    at = put_right(row.at, offset_of(row), row.received_at)
    return Entry(event_of(row.kind, row.version, row.data), at, row.received_at, by)


def offset_of(row: JournalEntry) -> int | None:
    """By how much the times of an entry were corrected; they stand in its line as they were sent."""
    return msgspec.json.decode(row.data, type=_Offset).clock_offset_s


class _Offset(msgspec.Struct, frozen=True):
    clock_offset_s: int | None = None


def event_of(kind: str, version: int, data: str) -> Event:
    """The event that a line's text holds."""
    made = KINDS[kind]
    if version == made.version:
        return msgspec.json.decode(data, type=made)
    raised: Raised = msgspec.json.decode(data)
    for older in range(version, made.version):
        raised = UP_CASTS[kind, older](raised)
    return msgspec.convert(raised, made)
