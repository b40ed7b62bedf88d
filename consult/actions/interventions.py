"""What was given: always kept, checked and flagged, never refused; each opens the reassessment it asks for."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from consult import access
from consult.access import Actor
from consult.actions.carry_out import Arrival
from consult.actions.entry import Data, Kind, Written, write
from consult.case.decide import interventions
from consult.case.entries import ChangeEntry, DoseEntry
from consult.models import Intervention
from consult.resources.entries import written_intervention

GIVEN = Kind("intervention", Intervention, written_intervention, happened="given_at", told_late=True)
CHANGE = Kind("change", Intervention, written_intervention, happened="at", aside=("intervention",), told_late=True)


def record_intervention(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Record a treatment that was given or is running; the answer carries its check and the reassessment due."""
    return write(actor, case, GIVEN, data, now, DoseEntry, interventions.record_intervention, arrival=arrival)


def change_intervention(
    actor: Actor, intervention: UUID, data: Data, now: datetime, arrival: Arrival | None = None
) -> Written:
    """Record a new rate or the end of something that runs."""
    case = access.intervention_for(actor, intervention, to_write=True).case.uid
    return write(
        actor,
        case,
        CHANGE,
        data,
        now,
        ChangeEntry,
        lambda known, asked: interventions.change_intervention(known, asked, str(intervention)),
        about=intervention,
        arrival=arrival,
    )
