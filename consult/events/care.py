"""What was measured, given and done, and the readings that it asks for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from consult.events.base import Event, Id


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
class InterventionJudgedAnew(Event):
    """An entry told late, or taken back, changed what was known at the time of this dose; its first check stays."""

    kind = "intervention.judged_anew"
    intervention: Id
    because: Id
    shown: str
    check: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcedureRecorded(Event):
    """Something done that is not a drug."""

    kind = "procedure.recorded"
    id: Id
    content: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerRecorded(Event):
    """A syringe was mixed, a bag hung, an oxygen cylinder opened."""

    kind = "container.recorded"
    id: Id
    content: dict[str, Any]
    shown: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerDiscarded(Event):
    """A syringe, bag or cylinder is in hand no more."""

    kind = "container.discarded"
    container: Id
    shown: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReassessmentMoved(Event):
    """A reassessment is done, overdue, or unknown because the unit has lost contact."""

    kind = "reassessment.moved"
    reassessment: Id
    intervention: Id
    state: str
    done_at: datetime | None = None
