"""What every change of a case has in common: lock, replay, decide, fold, settle, card, rows, journal, hint.

A client's id is recognized by the journal's unique constraint. Of two simultaneous firsts the loser reads again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Generic, TypeVar
from uuid import UUID

import msgspec
from django.db import IntegrityError, models, transaction

from consult import access, digest, problems, queries
from consult.access import Actor
from consult.actions import last_written
from consult.actions.carry_out import Arrival, Write, carry_out, load
from consult.actions.last_written import LastWritten
from consult.case.decide import control, times
from consult.case.decide.asked import Asked, Decided, Known
from consult.clock import stamp, utc
from consult.models import Case, JournalEntry
from consult.models.fields import new_id
from consult.state.parts import Author
from dosing.ground.language import gettext as _

Content = TypeVar("Content", bound=msgspec.Struct)
Data = Mapping[str, object]
Row = TypeVar("Row", bound=models.Model)
Answer = TypeVar("Answer", bound=msgspec.Struct)
Decide = Callable[[Known, Asked[Content]], Decided]


@dataclass(frozen=True, slots=True)
class Written(Generic[Answer]):
    """What a write answers: the resource, the case's journal number after it, whether it was new."""

    resource: Answer
    seq: int
    created: bool = True


@dataclass(frozen=True, slots=True)
class Kind(Generic[Row, Answer]):
    """A kind of entry: its name, the row that it makes or moves, and the field that says when it happened.

    `show` makes the answer, of the row and the case's journal number after the write; `aside` are fields that only say
    where the entry goes.
    """

    name: str
    model: type[Row]
    show: Callable[[Row, int], Answer]
    happened: str = ""
    aside: tuple[str, ...] = ()
    gate: Callable[[Actor], None] = access.require_writer
    # Without a look first a repetition is noticed only by the constraint: cheaper for what is posted most, right only
    # where acting twice could not fail for another reason.
    look_first: bool = True
    attends: bool = False  # a physician who does this has looked at the case
    # What was done, by its time: the crew of a unit from which the patient was moved may tell it late.
    told_late: bool = False


def write(
    actor: Actor,
    case_uid: UUID,
    kind: Kind[Row, Answer],
    data: Data,
    now: datetime,
    content: type[Content],
    decide: Decide[Content],
    *,
    about: UUID | None = None,
    arrival: Arrival | None = None,
) -> Written[Answer]:
    """Carry out one change of a case, or answer its repetition with what was stored.

    `about` is what it is about where that is not the case, `arrival` the batch that it comes with.
    """
    data, offset_s = apart(data)
    told = digest.content_digest(kind.name, about or case_uid, compared(data))
    uid = data.get("id")
    try:
        with transaction.atomic():
            case, had_until, last = _locked(actor, case_uid, kind)
            kind.gate(actor)
            # of a former crew always: what it told can lie after a move that was told late
            if (kind.look_first or had_until) and isinstance(uid, UUID) and (stored := stored_entry(actor, uid)):
                return replay(stored, told, as_stored(kind) if had_until else kind)
            asked = asked_of(actor, data, offset_s, now, content, kind.happened, kind.aside)
            former = had_until is not None and told_late(case, kind, asked, had_until)
            known = load(case, last.state)
            subject = kind.model, str(about or asked.id)
            wanted = Write(case, known.state, now, asked, told, as_sent(data, kind.happened), subject, arrival, former)
            wanted.card = last.card
            if kind.attends and asked.by.is_physician:
                case.attended_at = now
            decided = _told_besides(decide(known, asked), known, asked, offset_s, former)
            row = carry_out(wanted, decided, kind.model)
    except IntegrityError as refused:
        return _repeated(actor, uid, told, kind, refused)
    _committed(wanted)
    return Written(kind.show(row, case.seq), case.seq)


def _locked(actor: Actor, case_uid: UUID, kind: Kind[Row, Answer]) -> tuple[Case, datetime | None, LastWritten]:
    """The locked case, until when a former unit had its patient, and what this process need not read of it."""
    last = last_written.find(case_uid)
    case, had_until = access.case_to_write(actor, case_uid, kind.model, last.head)
    return case, had_until, last.of(case)


def _committed(write: Write) -> None:
    """What a write leaves to the next one."""
    last_written.keep(write.case, write.after, write.card)
    if write.arrival is not None:
        write.arrival.changed(write.case)


def _told_besides(
    decided: Decided, known: Known, asked: Asked[Content], offset_s: float | None, former: bool
) -> Decided:
    """What was decided, and what the entry tells besides: that the new crew has the patient, how the clock goes."""
    if not former:
        decided.add(control.seen(known.state, asked.by, decided))
    decided.add(times.judged(offset_s, asked.by, asked.now))
    return decided


def told_late(case: Case, kind: Kind[Row, Answer], asked: Asked[msgspec.Struct], had_until: datetime) -> bool:
    """True: the crew of a unit that had the patient before tells what it did before; else raises WrongState."""
    has, since = case.unit.call_sign, utc(had_until)
    if not kind.told_late:
        raise problems.WrongState(
            _(
                "{call_sign} has had this patient since {time}: only its crew and physicians can do this now.",
                call_sign=has,
                time=since,
            )
        )
    if asked.at > had_until:
        raise problems.WrongState(
            _(
                "{call_sign} has had this patient since {time}: its crew enters what happened later.",
                call_sign=has,
                time=since,
            )
        )
    return True


def asked_of(
    actor: Actor,
    data: Data,
    offset_s: float | None,
    now: datetime,
    content: type[Content],
    happened: str = "",
    aside: tuple[str, ...] = (),
) -> Asked[Content]:
    """The entry with its times put right by the sender's clock: what a decision acts on."""
    applied = times.applied(offset_s)
    corrected = times.corrected(data, applied, now)
    at = corrected.get(happened)
    return Asked(
        content=msgspec.convert(corrected, content),
        sent=sent(data, aside),
        id=str(data.get("id") or new_id()),
        by=author(actor),
        now=now,
        at=at if isinstance(at, datetime) else now,
        offset_s=applied,
    )


def as_sent(data: Data, happened: str) -> datetime | None:
    """When the entry happened by its sender's clock, where it says so."""
    at = data.get(happened)
    return at if isinstance(at, datetime) else None


def author(actor: Actor) -> Author:
    """Who makes an entry."""
    return Author(str(actor.membership), actor.name, actor.role)


def sent(data: Data, aside: tuple[str, ...] = ()) -> msgspec.Raw:
    """The content of an entry as it was sent, without what was not given and what only says where it goes."""
    told = {name: value for name, value in data.items() if value is not None and name not in ("id", *aside)}
    return msgspec.Raw(msgspec.json.encode(told))


def apart(data: Data) -> tuple[Data, float | None]:
    """Splits `clock_offset_s` off; answers the content, and the seconds that the sender's clock is behind or None."""
    offset_s = data.get("clock_offset_s")
    if not isinstance(offset_s, float | int):
        return data, None
    return {name: value for name, value in data.items() if name != "clock_offset_s"}, offset_s


def compared(data: Data) -> dict[str, object]:
    """The content that makes two entries the same: alone or in a batch."""
    return {name: _instants(value) for name, value in data.items() if name not in ("id", "kind", "case", "sent_at")}


def _instants(value: object) -> object:
    """The value with its times in UTC: the same moment under another offset is no other content."""
    if isinstance(value, datetime):
        return value.astimezone(UTC)
    if isinstance(value, dict):
        return {name: _instants(inner) for name, inner in value.items()}
    return value


def _repeated(
    actor: Actor, uid: object, told: str, kind: Kind[Row, Answer], refused: IntegrityError
) -> Written[Answer]:
    """The answer of the entry that was there first; raises the database's refusal where there is none."""
    with transaction.atomic():  # its commit puts that entry on disk, where a batch still owes it
        stored = stored_entry(actor, uid, lock=True) if isinstance(uid, UUID) else None
    if stored is None:
        raise refused
    return replay(stored, told, kind)


def stored_entry(actor: Actor, entry_id: UUID, *, lock: bool = False) -> JournalEntry | None:
    """The journal entry that this id already stands for in the actor's agency."""
    lines = JournalEntry.objects.select_for_update() if lock else JournalEntry.objects
    return next(iter(lines.filter(agency_id=actor.agency, entry=entry_id)), None)


def as_stored(kind: Kind[Row, Answer]) -> Kind[Row, Answer]:
    """The kind with the card of its answer as it stood then: for a crew whose patient another unit has now."""
    return replace(kind, show=lambda row, seq: kind.show(_as_then(row, seq), seq))


def _as_then(row: Row, seq: int) -> Row:
    if isinstance(row, Case):
        row.card = msgspec.json.encode(queries.card_at(row, seq)).decode()
    return row


def replay(stored: JournalEntry, told: str, kind: Kind[Row, Answer]) -> Written[Answer]:
    """The stored answer to a repeated entry; raises IdReused where the content is another."""
    if stored.content != told:
        raise problems.IdReused(
            _("This id already belongs to another entry, received at {stamp}.", stamp=stamp(stored.received_at))
        )
    row = kind.model._default_manager.get(pk=stored.subject)
    return Written(kind.show(row, stored.answered), stored.answered, created=False)
