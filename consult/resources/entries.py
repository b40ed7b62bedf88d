"""What was entered: as it was sent, null where nothing was told, with what the server adds.

Its times are those that were sent; ``clock_offset_s`` is by how many seconds they were corrected, null where they were
not. ``seq`` is the case's journal number after the write.
"""

from __future__ import annotations

from typing import TypeVar

import msgspec
from msgspec import Struct

from consult import models
from consult.case.entries import ContainerEntry, DoseEntry
from consult.models.fields import Entry
from consult.resources import name_of
from consult.state.check import Check
from consult.state.done import Settings
from consult.state.parts import Countersigned, Derived
from dosing.ground.facts import Amount, Number, Reassessment, Values
from dosing.ground.kinds import Id, Time
from dosing.ground.phases import Phase

Plain = dict[str, object]
Answer = TypeVar("Answer", bound=Struct)


class VitalsAnswer(Values, frozen=True, kw_only=True):
    """A set of vitals: what was measured, what this set alone says, and what in it is unlikely, to ask back once."""

    id: Id
    case: Id
    received_at: Time
    clock_offset_s: int | None
    seq: int
    taken_at: Time
    derived: Derived
    unlikely: tuple[str, ...]
    in_error: bool


class InterventionAnswer(DoseEntry, frozen=True, kw_only=True):
    """What was given, how it stands, how it was judged, and the reassessment that it opened.

    ``countersigned`` is what the physician of a voice order said to it, null before and without one.

    Of an infusion ``amount`` is the rate in force, and ``check`` that of the rate; ``infused`` is what ran in.
    """

    id: Id
    case: Id
    received_at: Time
    clock_offset_s: int | None
    infused: Amount | None = None
    check: Check
    reassessment: Reassessment | None
    countersigned: Countersigned | None = None
    in_error: bool


class WrittenIntervention(InterventionAnswer, frozen=True, kw_only=True):
    """An intervention after a write; ``seq`` is the case's journal number then."""

    seq: int


class ContainerAnswer(ContainerEntry, frozen=True, kw_only=True):
    """A syringe, bag or cylinder as it was recorded, and whether it is in hand still."""

    id: Id
    case: Id
    received_at: Time
    clock_offset_s: int | None
    seq: int
    at: Time
    discarded_at: Time | None
    discarded_because: str | None
    in_error: bool


class EntryAnswer(Struct, frozen=True, kw_only=True):
    """What each entry's answer has."""

    id: Id
    case: Id
    received_at: Time
    clock_offset_s: int | None
    seq: int


class ProcedureAnswer(EntryAnswer, frozen=True, kw_only=True):
    """Something done that is not a drug."""

    procedure: str
    at: Time
    site: str | None = None
    gauge: Number | None = None
    outcome: str | None = None
    settings: Settings | None = None
    in_error: bool


class NoteAnswer(EntryAnswer, frozen=True, kw_only=True):
    """A few words."""

    at: Time
    text: str
    in_error: bool


class PhaseAnswer(EntryAnswer, frozen=True, kw_only=True):
    """Which phase the case is in from then on."""

    at: Time
    phase: Phase
    in_error: bool


class ReviewAnswer(EntryAnswer, frozen=True, kw_only=True):
    """A supervisor's finding, and who found it."""

    text: str
    outcome: str
    by: str


class Corrected(Struct, frozen=True):
    """The entry that was marked, by its kind and id."""

    kind: str
    id: Id


class CorrectionAnswer(EntryAnswer, frozen=True, kw_only=True):
    """Which entry was marked as entered in error, and why."""

    target: Corrected
    reason: str


def _entry(row: Entry, kind: type[Answer], own: Plain) -> Answer:
    """The answer of this kind: its own values, over what each has."""
    known = {
        "id": str(row.uid),
        "case": str(row.case.uid),
        "received_at": row.received_at,
        "clock_offset_s": row.clock_offset_s,
    }
    return msgspec.convert({**own, **known}, kind)


def vitals(row: models.Vitals, seq: int) -> VitalsAnswer:
    """A set of vitals: what was sent, with what was derived from it then."""
    own = {**row.data, "derived": row.derived, "unlikely": row.unlikely, "in_error": row.in_error, "seq": seq}
    return _entry(row, VitalsAnswer, own)


def written_intervention(row: models.Intervention, seq: int) -> WrittenIntervention:
    """An intervention after a write."""
    return _entry(row, WrittenIntervention, {**_given(row), "seq": seq})


def intervention(row: models.Intervention) -> InterventionAnswer:
    """An intervention with its reassessment as that stands now."""
    asked = next(iter(row.reassessments.all()), None)
    now = asked and reassessment(asked, str(row.uid))
    return _entry(row, InterventionAnswer, {**_given(row), "reassessment": now})


def _given(row: models.Intervention) -> Plain:
    in_force = {name: value for name, value in {"amount": row.rate, "infused": row.infused}.items() if value}
    return {
        **row.data,
        **in_force,
        "check": row.rate_check or row.verdict,
        "status": row.status,
        "countersigned": row.countersigned,
        "reassessment": row.reassessment,
        "in_error": row.in_error,
    }


def reassessment(row: models.Reassessment, intervention: str) -> Reassessment:
    """The reading that an intervention asks for, and how that stands."""
    return Reassessment(
        id=str(row.uid),
        intervention=intervention,
        because=row.because,
        counts_from=row.counts_from,
        needs=tuple(row.needs),
        also=tuple(row.also),
        due_at=row.due_at,
        overdue_at=row.overdue_at,
        done_at=row.done_at,
        state=str(row.state),
    )


def container(row: models.Container, seq: int) -> ContainerAnswer:
    """A syringe, bag or cylinder: what was sent, and whether it is in hand still."""
    own = {
        **row.data,
        "at": row.data.get("at") or row.at,
        "form": str(row.form),
        "treatment": row.treatment or None,
        "discarded_at": row.discarded_at,
        "discarded_because": row.discarded_because or None,
        "in_error": row.in_error,
    }
    return _entry(row, ContainerAnswer, {**own, "seq": seq})


def procedure(row: models.Procedure, seq: int) -> ProcedureAnswer:
    """A procedure as it was sent."""
    return _entry(row, ProcedureAnswer, {"at": row.at, **row.data, "in_error": row.in_error, "seq": seq})


def phase(row: models.PhaseChange, seq: int) -> PhaseAnswer:
    """A change of phase as it was sent."""
    return _entry(row, PhaseAnswer, {**row.data, "in_error": row.in_error, "seq": seq})


def note(row: models.Note, seq: int) -> NoteAnswer:
    """A note as it was sent."""
    own = {"at": row.at_as_sent, "text": row.text, "in_error": row.in_error}
    return _entry(row, NoteAnswer, {**own, "seq": seq})


def review(row: models.Review, seq: int) -> ReviewAnswer:
    """A supervisor's finding."""
    return _entry(row, ReviewAnswer, {"text": row.text, "outcome": row.outcome, "by": name_of(row.by), "seq": seq})


def correction(row: models.Correction, seq: int) -> CorrectionAnswer:
    """A correction: which entry was marked, and why."""
    target = {"kind": row.target_kind, "id": str(row.target)}
    return _entry(row, CorrectionAnswer, {"target": target, "reason": row.reason, "seq": seq})
