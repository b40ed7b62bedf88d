"""What is known of a case, who has control, what was said of it."""

from __future__ import annotations

from datetime import datetime

from msgspec import Raw, Struct

from consult.events.base import Event, Id
from consult.events.care import AddedUp
from consult.events.rules import Label
from consult.state.check import KnownSince
from consult.state.parts import KeptLatest, KeptReading, Named, Order, RulesInForce, UnitNamed
from dosing.ground.facts import Goal, Number, OxygenFlow, Patient, Reassessment


class Judged(Struct, frozen=True, kw_only=True):
    """The rule set by which a case is judged from here on; `record` is the id of the one that holds it."""

    record: str
    rule_set: RulesInForce


class CaseOpened(Event, frozen=True, kw_only=True):
    """A unit has taken over a patient, or a physician has opened the case for it."""

    kind = "case.opened"
    id: Id
    content: Raw
    unit: UnitNamed
    judged: Judged
    opened_at: datetime
    patient: Patient
    complaint: str
    impression: str
    destination: str
    incident: str
    eta: datetime | None


class CaseChanged(Event, frozen=True, kw_only=True):
    """What is known of the patient or the journey has changed: `changes` are just the fields that did, as sent.

    Beside them stands how all of it is now. `aimed` is which pressure was aimed at so far, by phase, where that is
    another from here on. `known_since` is, by dose that runs, what of it lies beyond the limits by what became known,
    where that is another than before.
    """

    kind = "case.changed"
    changes: Raw
    patient: Patient
    complaint: str
    impression: str
    destination: str
    incident: str
    eta: datetime | None
    aimed: dict[str, Goal] | None = None
    known_since: dict[Id, tuple[KnownSince, ...]] | None = None


class CaseAccepted(Event, frozen=True, kw_only=True):
    """A physician has taken control, perhaps from another; in `handover`, where it was offered at a change of shift.

    Whatever was offered before is so no longer.
    """

    kind = "case.accepted"
    physician: str
    taken_from: str | None = None
    membership: Id
    handover: Id | None = None


class ControlOffered(Event, frozen=True, kw_only=True):
    """At the change of shift the physician who has control offers it to a colleague, `to`; until then it stays.

    `handover` is the same for all cases that are handed over together. It ends when anybody takes control, which who
    offered it may do to keep it, when it is offered anew or given up, and with the case.
    """

    kind = "control.offered"
    id: Id
    handover: Id
    to: Named
    note: str = ""


class CaseReleased(Event, frozen=True, kw_only=True):
    """The physician who had control has given it up: nobody has it."""

    kind = "case.released"
    physician: str
    reason: str = ""


class CaseTakenOver(Event, frozen=True, kw_only=True):
    """In the demonstration: a person of the unit works the case from here on, and its simulated crew stands back."""

    kind = "case.taken_over"
    crew: str


class CaseMoved(Event, frozen=True, kw_only=True):
    """The patient goes on in another unit of the agency, with all that runs, waits or is in hand; `label` there.

    What the unit that it `left` did before `moved_at` is still taken from its crew.
    """

    kind = "case.moved"
    left: UnitNamed
    unit: UnitNamed
    moved_at: datetime
    label: str | None = None


class MoveSeen(Event, frozen=True, kw_only=True):
    """Somebody of the crew to which the patient was moved has opened the case, or entered something in it."""

    kind = "move.seen"


class CaseHandedOver(Event, frozen=True, kw_only=True):
    """The patient was handed over; later entries are marked late."""

    kind = "case.handed_over"
    to: str
    ended_at: datetime


class CaseClosed(Event, frozen=True, kw_only=True):
    """The case ended with this outcome."""

    kind = "case.closed"
    outcome: str
    ended_at: datetime


class CaseReopened(Event, frozen=True, kw_only=True):
    """A physician has put the case back on the board, under the rules now in force, with a letter if need be.

    `aimed` as in `case.changed`.
    """

    kind = "case.reopened"
    reason: str
    judged: Judged | None
    label: str | None
    aimed: dict[str, Goal] | None = None


class GoalSet(Event, frozen=True, kw_only=True):
    """A physician has set the pressure goal for this patient."""

    kind = "goal.set"
    measure: str
    floor: Number
    ceiling: Number | None
    reason: str
    because: str


class PhaseChanged(Event, frozen=True, kw_only=True):
    """The case is in another phase: cardiac arrest, a pulse again, resuscitation ended, or on the way."""

    kind = "phase.changed"
    id: Id
    phase: str


class CoverageAnnounced(Event, frozen=True, kw_only=True):
    """The crew drives where there is no coverage: until then its silence is no news. A later one replaces it.

    Heard of at `back_from` or later it has coverage again, and its silence is news as ever.
    """

    kind = "coverage.announced"
    until: datetime
    back_from: datetime | None = None


class NoteAdded(Event, frozen=True, kw_only=True):
    """A few words by crew or physician."""

    kind = "note.added"
    id: Id
    text: str


class Target(Struct, frozen=True):
    """The entry that a correction is about."""

    kind: str
    id: Id


class Measured(Struct, frozen=True, kw_only=True):
    """What the measurements are without a set: readings that go, that come back, and newest values that change."""

    gone: tuple[Id, ...]
    back: tuple[KeptReading, ...]
    latest: dict[str, KeptLatest | None]
    oxygen: tuple[OxygenFlow, ...] | None


class EntryCorrected(Event, frozen=True, kw_only=True):
    """An entry was marked entered in error; it leaves every computation and stays visible.

    What it brings back: of vitals the `measured` that are left, of a dose the order that it was counted for, as that
    `became`; the `reassessments` that are judged otherwise now, how many are `unanswered` besides where that is another
    number now, and what is `added_up` otherwise.
    """

    kind = "entry.corrected"
    id: Id
    target: Target
    reason: str
    measured: Measured | None = None
    became: Order | None = None
    reassessments: tuple[Reassessment, ...] = ()
    unanswered: dict[str, int] = {}
    added_up: AddedUp | None = None


class ReviewAdded(Event, frozen=True, kw_only=True):
    """A supervisor's finding after the consult."""

    kind = "review.added"
    id: Id
    text: str
    outcome: str


class CaseRulesChanged(Event, frozen=True, kw_only=True):
    """From here on the case is judged by another rule set; what was judged before keeps the digest of its own.

    `aimed` as in `case.changed`.
    """

    kind = "case.rules_changed"
    rule_set: Label
    replaced: Label
    judged: Judged
    aimed: dict[str, Goal] | None = None


class CardRebuilt(Event, frozen=True, kw_only=True):
    """The card was built anew by later code and came out different: from here on everybody sees this one."""

    kind = "card.rebuilt"
