"""What was given: always kept, checked and flagged, never refused; each opens the reassessment it asks for."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from consult import access
from consult.access import Actor
from consult.actions.carry_out import Arrival
from consult.actions.entry import Data, Kind, Written, write
from consult.case.decide import countersigns, interventions
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.entries import ChangeEntry, CountersignEntry, DoseEntry
from consult.models import Intervention
from consult.resources.entries import written_intervention
from consult.state.parts import Named

GIVEN = Kind("intervention", Intervention, written_intervention, happened="given_at", told_late=True)
COUNTERSIGN = Kind("countersign", Intervention, written_intervention, gate=access.require_physician, attends=True)
CHANGE = Kind("change", Intervention, written_intervention, happened="at", aside=("intervention",), told_late=True)


def record_intervention(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Record a treatment that was given or is running; the answer carries its check and the reassessment due."""

    def decide(known: Known, asked: Asked[DoseEntry]) -> Decided:
        said = asked.content.voice_order
        by_voice = _by_voice(actor, said.physician) if said else None
        return interventions.record_intervention(known, asked, by_voice)

    return write(actor, case, GIVEN, data, now, DoseEntry, decide, arrival=arrival)


def _by_voice(actor: Actor, username: str) -> Named:
    return access.physician_named(actor, username, "/voice_order/physician", ended_too=True)


def countersign(actor: Actor, intervention: UUID, data: Data, now: datetime) -> Written:
    """Countersign what was given by one's own voice order, or deny that there was one."""
    case = access.intervention_for(actor, intervention).case.uid

    def decide(known: Known, asked: Asked[CountersignEntry]) -> Decided:
        dose = str(intervention)
        named = next((each.physician for each in known.state.countersigns if each.id == dose), None)
        return countersigns.countersign(known, asked, dose, same_person=access.same_person(actor, named))

    return write(actor, case, COUNTERSIGN, data, now, CountersignEntry, decide, about=intervention)


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
