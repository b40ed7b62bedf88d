"""The one way in which a case is written: events folded, settled, made a card, rows, journal lines; boards are told."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TypeVar
from uuid import UUID

import msgspec
from django.db import models, transaction

from consult import card_diff, hints, queries, statements
from consult.actions import outbox
from consult.actions.past import StoredPast
from consult.card_diff import Kept
from consult.case.card import Totals, card_of, lists_of, same_totals
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.fold.apply import apply
from consult.case.fold.entry import Entry
from consult.case.fold.ordered import order_told
from consult.case.settle import Settling, settle, tell_arrival
from consult.events import Event
from consult.journal.append import LATE_AFTER, Line, chain
from consult.models import Case, JournalEntry
from consult.models.fields import new_id
from consult.rows.projection import case_columns, project
from consult.rows.rows import Happened, Rows
from consult.rows.store import store
from consult.state.case import OPEN, CaseState, Presence
from consult.state.parts import Author, Order
from consult.statements import Change
from dosing.rules.rule_set import RuleSet

MOST_ARRIVAL = timedelta(seconds=5)  # a batch that breaks off is settled by the sweep
MISSING = object()
ROW = tuple(column.attname for column in Case._meta.concrete_fields if not column.primary_key)
Subject = tuple[type[models.Model], str]
Row = TypeVar("Row", bound=models.Model)


@dataclass(slots=True)
class Arrival:
    """A batch that comes in: what its readings and the clock say waits for its end, as does the disk.

    Of each case that it changed it keeps the newest line of the journal that is its own, by number and digest.
    """

    cases: dict[UUID, tuple[int, str]] = field(default_factory=dict)

    def changed(self, case: Case) -> None:
        """An entry is committed that changed this case."""
        self.cases[case.uid] = case.seq, case.head


@dataclass(slots=True)
class Write:
    """A write under way: the locked case, its state before, whose entry it is (the clock's where nobody's), and when.

    `subject` is the row that the entry makes or moves, `as_sent` when it happened by its sender's clock, `content` the
    digest of what was sent; what is made `anew` takes nothing over from the card that is stored; an entry
    `of_former_unit` is no sign of life of the one that has the patient now; `card` is the card by its keys where it
    need not be read, and after the write the new one.
    """

    case: Case
    before: CaseState | None
    now: datetime
    asked: Asked[msgspec.Struct] | None = None
    content: str = ""
    as_sent: datetime | None = None
    subject: Subject | None = None
    arrival: Arrival | None = None
    of_former_unit: bool = False
    anew: bool = False
    card: Kept | None = None
    row: dict[str, object] = field(default_factory=dict)
    after: CaseState | None = None

    def __post_init__(self) -> None:
        read = self.case.__dict__
        self.row = {name: read[name] for name in ROW if name in read} if self.before else {}

    @property
    def by(self) -> Author | None:
        """Who makes the entry."""
        return self.asked.by if self.asked else None

    @property
    def at(self) -> datetime:
        """When the entry happened, by the corrected clock."""
        return self.asked.at if self.asked else self.now

    @property
    def offset_s(self) -> int | None:
        """By how much the entry's times were corrected."""
        return self.asked.offset_s if self.asked else None


@dataclass(slots=True)
class Told:
    """The entries of a write, `own` of them its own, with the state after each."""

    own: int = 0
    entries: list[Entry] = field(default_factory=list)
    states: list[CaseState] = field(default_factory=list)

    def add(self, entry: Entry, state: CaseState) -> None:
        """One entry more."""
        self.entries.append(entry)
        self.states.append(state)


def load(case: Case, state: CaseState | None = None) -> Known:
    """What is known of a case that is locked, and of its state, where that need not be read."""
    state = state or msgspec.json.decode(case.folded, type=CaseState)
    return Known(state, queries.rules_of(case), StoredPast(case, state))


def let_time_work(case: Case, now: datetime, *events: Event) -> None:
    """Settle a case that is locked, after events in it that nobody entered."""
    carry_out(Write(case, load(case).state, now), Decided([*events]), Case)


def carry_out(write: Write, decided: Decided, model: type[Row]) -> Row:
    """Fold what was decided, settle the case, and write it all; answers the row that the entry is about."""
    case = write.case
    if write.by and write.by.is_crew and not write.of_former_unit:
        case.last_contact_at = max(case.last_contact_at, write.now)
    told = _folded(write, decided)
    after = told.states[-1] if told.states else write.before
    if after is None:
        raise ValueError("a case begins with an event")
    if write.before and after.unit.id != write.before.unit.id:
        case.last_contact_at = write.now  # since when its crew could be heard in this case
    rules = queries.rules_by_record(UUID(after.rules))
    after = write.after = _settled(write, told, after, rules, decided)
    outbox.escalated(case, (each.event for each in told.entries), after, write.now)
    row = _rows(write, told)
    lines = _journal(write, told, after, rules, row)
    left = [row] if row._state.adding else []
    on_disk = write.arrival is None or write.before is None  # a case that opens: its repetition is answered unlocked
    statements.together([*left, *_changed(write, after), *lines], on_disk=on_disk)
    if told.entries and not (write.arrival and len(told.entries) == told.own):
        transaction.on_commit(lambda: hints.tell(case.pk, case.seq))
    if not isinstance(row, model):
        raise TypeError(row)
    return row


def _folded(write: Write, decided: Decided) -> Told:
    told, state = Told(own=len(decided.events)), write.before
    for event in decided.events:
        entry = Entry(event, write.at, write.now, write.by)
        state = apply(state, entry)
        told.add(entry, state)
    return told


def _settled(write: Write, told: Told, state: CaseState, rules: RuleSet, decided: Decided) -> CaseState:
    """The state once all that follows has happened too; sets when the case must be looked at again."""
    past, told_now = StoredPast(write.case, state), _orders_told(told)
    case = Settling(
        state,
        rules,
        presence_of(write.case),
        write.now,
        new_id=lambda: str(new_id()),
        became=lambda order: told_now.get(order) or past.order(order),
        past=past,
    )
    if write.arrival is None:
        write.case.wake_at = settle(case, decided)
    else:
        write.case.wake_at = write.now + MOST_ARRIVAL
        tell_arrival(case, decided)
    for entry, after in zip(case.entries, case.states, strict=True):
        told.add(entry, after)
    return case.state


def _orders_told(told: Told) -> dict[str, Order]:
    """The orders of which a write tells, as they stand after it: their rows are not written yet."""
    orders = (order_told(entry.event) for entry in told.entries)
    return {order.id: order for order in orders if order}


def presence_of(case: Case) -> Presence:
    """Who was heard of without an entry."""
    return Presence(last_contact_at=case.last_contact_at, attended_at=case.attended_at)


def _rows(write: Write, told: Told) -> models.Model:
    """Write the rows that are made or changed; answers the one that the entry is about."""
    rows, before = Rows(), write.before
    if before is None:
        _changed(write, told.states[0])
        write.case.save(force_insert=True)  # the others name it
    for place, (entry, after) in enumerate(zip(told.entries, told.states, strict=True)):
        at_as_sent = write.as_sent if place == 0 and write.as_sent else entry.at
        project(rows, Happened(entry, before, after, at_as_sent, write.offset_s))
        before = after
    made = store(write.case, rows, write.subject)
    if write.subject is None or write.subject[0] is Case:
        return write.case
    table, row_id = write.subject
    return made.get(write.subject) or table._default_manager.select_related("case").get(case=write.case, uid=row_id)


def _journal(write: Write, told: Told, state: CaseState, rules: RuleSet, row: models.Model) -> list[JournalEntry]:
    """The lines, each with what it changed of the card, not written yet; the card itself."""
    case = write.case
    stay = write.before is not None and not write.anew and same_totals(write.before, state)
    was = write.card or card_diff.kept(case.card)
    totals = card_diff.part(was, Totals) if stay else None
    text = msgspec.json.encode(card_of(state, presence_of(case), rules, totals))
    card = write.card = card_diff.kept(text)
    lines = []
    for place, (entry, after) in enumerate(zip(told.entries, told.states, strict=True)):
        then = card if after is state else {**card, **_lists(after, rules)}
        line = Line(entry.event, entry.at, card_diff.at(after.seq, was, then), by=entry.by)
        if place == 0 and told.own and write.asked:
            _sign(line, write, write.asked, row)
        lines.append(line)
        was = then
    case.card = text.decode()
    return chain(case, lines, write.now)


def _lists(state: CaseState, rules: RuleSet) -> card_diff.Kept:
    """The number and the lists of the card after an entry that others of the same write follow."""
    return card_diff.kept(msgspec.json.encode(lists_of(state, rules))) | {"seq": msgspec.Raw(b"%d" % state.seq)}


def _sign(line: Line, write: Write, asked: Asked[msgspec.Struct], row: models.Model) -> None:
    """The entry's own line bears its id, and its times as they were sent."""
    late_for = write.before is not None and write.before.state != OPEN
    line.late = write.now - asked.at > LATE_AFTER or late_for
    line.entry, line.content, line.subject = UUID(asked.id), write.content, row.pk
    line.at, line.clock_offset_s = write.as_sent or asked.at, asked.offset_s


def _changed(write: Write, state: CaseState) -> list[Change]:
    """What has changed of the case's row, which holds it from now on, if anything has."""
    case = write.case
    for name, value in {**case_columns(state), "seq": case.seq}.items():
        setattr(case, name, value)
    case.folded = msgspec.json.encode(state).decode()
    changed = {name: case.__dict__[name] for name in ROW if case.__dict__[name] != write.row.get(name, MISSING)}
    return [Change(Case, case.pk, changed)] if changed else []
