"""Every kind of journal entry: one small dataclass each, whose docstring is its documentation.

`kind` is the name in the journal; the fields are what the journal keeps under `data`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar
from uuid import UUID

Id = UUID | str


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened in a case."""

    kind: ClassVar[str] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseOpened(Event):
    """A unit has taken over a patient, or a physician has opened the case for it."""

    kind = "case.opened"
    id: Id
    content: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseChanged(Event):
    """What is known of the patient or the journey has changed: just the fields that did."""

    kind = "case.changed"
    changes: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseAccepted(Event):
    """A physician has taken control, perhaps from another."""

    kind = "case.accepted"
    physician: str
    taken_from: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseHandedOver(Event):
    """The patient was handed over; later entries are marked late."""

    kind = "case.handed_over"
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseClosed(Event):
    """The case ended with this outcome."""

    kind = "case.closed"
    outcome: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseReopened(Event):
    """A physician has put the case back on the board."""

    kind = "case.reopened"
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GoalSet(Event):
    """A physician has set the pressure goal for this patient."""

    kind = "goal.set"
    measure: str
    floor: float
    ceiling: float | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VitalsRecorded(Event):
    """A set of vitals, as sent, with what was derived from it then."""

    kind = "vitals.recorded"
    id: Id
    values: dict[str, Any]
    derived: dict[str, Any]
    unlikely: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class InterventionRecorded(Event):
    """A treatment that was given or started, with the check made of it."""

    kind = "intervention.recorded"
    id: Id
    content: dict[str, Any]
    shown: str
    check: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class InterventionChanged(Event):
    """A running treatment has a new rate, or has ended."""

    kind = "intervention.changed"
    intervention: Id
    content: dict[str, Any]
    shown: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcedureRecorded(Event):
    """Something done that is not a drug."""

    kind = "procedure.recorded"
    id: Id
    content: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteAdded(Event):
    """A few words by crew or physician."""

    kind = "note.added"
    id: Id
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRequested(Event):
    """The crew asks for an order beyond its standing limits."""

    kind = "order.requested"
    id: Id
    content: dict[str, Any]
    shown: str
    check: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPlaced(Event):
    """A physician has ordered of their own accord."""

    kind = "order.placed"
    id: Id
    content: dict[str, Any]
    shown: str
    check: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderDecided(Event):
    """A physician has approved, changed, asked back about or declined a request."""

    kind = "order.decided"
    order: Id
    decision: str
    content: dict[str, Any]
    shown: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderReadBack(Event):
    """The crew has repeated the order; `differences` names what did not match."""

    kind = "order.read_back"
    order: Id
    matches: bool
    differences: list[str]
    content: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderEnded(Event):
    """An order came to its end: given, withdrawn, not given, expired or voided, and why."""

    kind = "order.ended"
    order: Id
    state: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryCorrected(Event):
    """An entry was marked entered in error; it leaves every computation and stays visible."""

    kind = "entry.corrected"
    id: Id
    target: dict[str, Any]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReassessmentMoved(Event):
    """A reassessment is done, overdue, or unknown because the unit has lost contact."""

    kind = "reassessment.moved"
    reassessment: Id
    intervention: Id
    state: str
    done_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertRaised(Event):
    """Something needs a person."""

    kind = "alert.raised"
    alert: Id
    alert_kind: str
    cause: str
    priority: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertChanged(Event):
    """The cause of an open alert has got worse or better: its priority moved."""

    kind = "alert.changed"
    alert: Id
    alert_kind: str
    priority: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertAcknowledged(Event):
    """Somebody has taken notice of an alert, by name."""

    kind = "alert.acknowledged"
    alert: Id
    alert_kind: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertEscalated(Event):
    """Nobody acknowledged in time: the alert goes to the others."""

    kind = "alert.escalated"
    alert: Id
    alert_kind: str
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertCleared(Event):
    """The cause of an alert is gone, and why."""

    kind = "alert.cleared"
    alert: Id
    alert_kind: str
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewAdded(Event):
    """A supervisor's finding after the consult."""

    kind = "review.added"
    id: Id
    text: str
    outcome: str
