"""What every change of a case has in common: lock, replay, row, card, alerts, journal, notice; none can be forgotten.

A client's id is recognised by the journal's unique constraint. Of two simultaneous firsts the loser reads again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import msgspec
from django.db import IntegrityError, models, transaction

from consult import access, changes, clock, digest, notices, problems, queries
from consult.access import Actor
from consult.actions import clocks, settle
from consult.card.build import Card, build
from consult.card.facts import Kept, clinical, load, store
from consult.clock import stamp
from consult.events import Event
from consult.journal.append import LATE_AFTER, Line, append
from consult.models import Case, JournalEntry
from consult.models.fields import new_id
from dosing.findings import BEYOND, PASSING
from dosing.rule_set import RuleSet
from dosing.watch import Cause

Data = dict[str, Any]
ROW = tuple(column.attname for column in Case._meta.concrete_fields if not column.primary_key)
MISSING = object()
Show = Callable[[Any], Data]


@dataclass(frozen=True, slots=True)
class Written:
    """What a write answers: the resource, the case's journal number after it, whether it was new."""

    resource: Data
    seq: int
    created: bool = True


@dataclass(slots=True)
class Draft:
    """A write under way: the locked case with its facts and rules, who writes, when; `act` leaves the event here.

    `happened` are causes of alerts that the write brings about, `ended` those (kind, cause, why) that it ends;
    `followed` are events that it brings about besides its own, each a journal line after it;
    `clock_offset_s` is how far the sender's clock is behind, where the sender said so, `offset_s` by how much its
    times are corrected; `as_sent` is the content before that, `told_under` its field that says when. `afterwards` is
    what the row takes over from the settled case.
    """

    case: Case
    kept: Kept
    rules: RuleSet
    actor: Actor | None
    now: datetime
    uid: UUID | None = None
    content: str = ""
    event: Event | None = None
    at: datetime | None = None
    told_under: str = ""
    subject: int | None = None
    before: Card = field(default_factory=dict)
    row: Data = field(default_factory=dict)
    happened: list[Cause] = field(default_factory=list)
    ended: list[tuple[str, str, str]] = field(default_factory=list)
    followed: list[Event] = field(default_factory=list)
    clock_offset_s: float | None = None
    as_sent: Data = field(default_factory=dict)
    afterwards: list[Callable[[], None]] = field(default_factory=list)

    @property
    def sender(self) -> Actor:
        """Who writes; the clock writes nothing of its own."""
        if self.actor is None:
            raise problems.Forbidden("The clock makes no entries.")
        return self.actor

    @property
    def seq(self) -> int:
        """The journal number that this write's own entry will have."""
        return self.case.seq + 1

    @property
    def offset_s(self) -> int | None:
        """By how many seconds the sender's times are corrected."""
        return clocks.applied(self.clock_offset_s)

    def corrected(self) -> Data:
        """The content with its times put right by the sender's clock: what a write acts on."""
        content: Data = clocks.corrected(self.as_sent, self.offset_s, self.now)
        return content

    def happened_at(self, name: str = "at") -> datetime:
        """When the entry happened by the field of this name, else now; its journal line keeps the time as sent."""
        self.told_under = name
        self.at = clock.put_right(self.at_as_sent, self.offset_s, self.now) if self.as_sent.get(name) else self.now
        return self.at

    @property
    def at_as_sent(self) -> datetime:
        """When the entry happened by its sender's clock, else now."""
        told: datetime | None = self.as_sent.get(self.told_under)
        return told or self.at or self.now

    def flag(self, dose: Data, check: Data, at: datetime, *, less: bool = False) -> None:
        """One alert that names all findings that wanted an order; ``less`` of what runs need wait for no reading."""
        waived = PASSING if less else ()
        beyond = [each for each in check["findings"] if each["level"] in BEYOND and each["code"] not in waived]
        if beyond:
            self.case.outside_limits = True
            text = f"{dose['shown']}: {'; '.join(each['text'] for each in beyond)}"[:500]
            self.happened.append(Cause("dose_outside_limits", dose["id"], "high", text, at))

    def entry_fields(self) -> Data:
        """What every row made of a client's entry holds."""
        return {
            "uid": self.uid,
            "case": self.case,
            "by_id": self.sender.membership,
            "received_at": self.now,
            "clock_offset_s": self.offset_s,
            "seq": self.seq,
        }


def write(
    actor: Actor,
    case_uid: UUID,
    operation: str,
    data: Data,
    now: datetime,
    *,
    act: Callable[[Draft, Data], models.Model],
    model: type[models.Model],
    show: Show,
    gate: Callable[[Actor], None] = access.require_writer,
    target: object = None,
    look_first: bool = True,
) -> Written:
    """Carry out one change of a case, or answer its repetition with what was stored.

    Without `look_first` a repetition is noticed only by the constraint: cheaper for what is posted most, right only
    where acting twice could not fail for another reason.
    """
    data, offset_s = clocks.apart(data)
    content = digest.content_digest(operation, target or case_uid, compared(data))
    try:
        with transaction.atomic():
            case = access.case_for(actor, case_uid, lock=True)
            gate(actor)
            if look_first and data.get("id") and (stored := stored_entry(actor, data["id"])):
                return replay(stored, content, model, show)
            draft = draft_for(case, actor, now, uid=data.get("id") or new_id(), content=content)
            draft.clock_offset_s, draft.as_sent = offset_s, data
            row = act(draft, draft.corrected())
            draft.subject = row.pk
            finish(draft)
    except IntegrityError:
        stored = stored_entry(actor, data["id"]) if data.get("id") else None
        if stored is None:
            raise
        return replay(stored, content, model, show)
    return Written(show(row), case.seq)


def draft_for(case: Case, actor: Actor | None, now: datetime, *, uid: UUID | None = None, content: str = "") -> Draft:
    """Begin a write of a case that is locked."""
    kept, before = load(case), msgspec.json.decode(case.card)
    row = {name: case.__dict__[name] for name in ROW}
    return Draft(case, kept, queries.rules_of(case), actor, now, uid, content, before=before, row=row)


def finish(draft: Draft) -> None:
    """Rebuild the card, settle what clock and alert rule say, write journal and case, tell the boards on commit."""
    case, now = draft.case, draft.now
    if draft.actor and draft.actor.is_crew:
        case.last_contact_at = max(case.last_contact_at, now)
        settle.crew_wrote(case, draft.kept, now)
    clocks.judge(draft)
    facts = clinical(case, draft.kept)
    card = build(case, draft.kept, facts, draft.rules)
    lines = [_own_line(draft, card)] if draft.event else []
    lines += [Line(event, draft.at or now, {}, actor=draft.actor) for event in draft.followed]
    lines += settle.lines(case, draft.kept, facts, draft.rules, now, card, draft.happened, draft.ended)
    for work in draft.afterwards:
        work()
    _number(lines, draft.before, card)
    append(case, lines, now)
    case.card = msgspec.json.encode(card).decode()
    store(case, draft.kept)
    case.save(update_fields=[name for name in ROW if case.__dict__[name] != draft.row.get(name, MISSING)])
    if lines:
        transaction.on_commit(lambda: notices.tell(case.pk, case.seq))


def _number(lines: list[Line], before: Card, card: Card) -> None:
    """Give each line the card's next number, and leave in its changes what differs from the card of the line before."""
    for seq, line in enumerate(lines, start=card["seq"] + 1):
        after = {**before, **line.changes, "seq": seq}
        line.changes, before = changes.at(seq, before, after), after
        card["seq"] = seq


def _own_line(draft: Draft, card: Card) -> Line:
    at = draft.at or draft.now
    late = draft.now - at > LATE_AFTER or draft.before.get("state", "open") != Case.State.OPEN
    return Line(
        draft.event,  # type: ignore[arg-type]
        draft.at_as_sent,
        {**card},  # as it is now: what is settled after it is told by lines of their own
        actor=draft.actor,
        entry=draft.uid,
        content=draft.content,
        subject=draft.subject,
        late=late,
        clock_offset_s=draft.offset_s,
    )


def compared(data: Data) -> Data:
    """The content that makes two entries the same: alone or in a batch."""
    return {name: _instants(value) for name, value in data.items() if name not in ("id", "kind", "case", "sent_at")}


def _instants(value: Any) -> Any:
    """The value with its times in UTC: the same moment under another offset is no other content."""
    if isinstance(value, datetime):
        return value.astimezone(UTC)
    if isinstance(value, dict):
        return {name: _instants(inner) for name, inner in value.items()}
    return value


def stored_entry(actor: Actor, entry_id: UUID) -> JournalEntry | None:
    """The journal entry that this id already stands for in the actor's agency."""
    return next(iter(JournalEntry.objects.filter(agency_id=actor.agency, entry=entry_id)), None)


def replay(stored: JournalEntry, content: str, model: type[models.Model], show: Show) -> Written:
    """The stored answer to a repeated entry; raises IdReused where the content is another."""
    if stored.content != content:
        raise problems.IdReused(f"This id stands for another entry, received at {stamp(stored.received_at)}.")
    row = model._default_manager.get(pk=stored.subject)
    return Written(show(row), stored.answered, created=False)
