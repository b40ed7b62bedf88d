"""What is known of a case, who has control, what was said of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from consult.events.base import Event, Id


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
class CaseTakenOver(Event):
    """In the demonstration: a person of the unit works the case from here on, and its simulated crew stands back."""

    kind = "case.taken_over"
    crew: str


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
class NoteAdded(Event):
    """A few words by crew or physician."""

    kind = "note.added"
    id: Id
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryCorrected(Event):
    """An entry was marked entered in error; it leaves every computation and stays visible."""

    kind = "entry.corrected"
    id: Id
    target: dict[str, Any]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewAdded(Event):
    """A supervisor's finding after the consult."""

    kind = "review.added"
    id: Id
    text: str
    outcome: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CardRebuilt(Event):
    """The card was built anew by later code and came out different: from here on everybody sees this one."""

    kind = "card.rebuilt"
