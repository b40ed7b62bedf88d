"""What was given, what is in hand, and the readings that are asked for."""

from __future__ import annotations

from datetime import datetime
from itertools import chain

from msgspec.structs import replace

from consult import events
from consult.case.fold import ordered
from consult.case.fold.entry import Entry
from consult.case.fold.lists import put, without
from consult.state.case import CaseState
from consult.state.parts import Given, InHand
from dosing.ground.facts import Reassessment

DONE = "done"


def recorded(state: CaseState, event: events.InterventionRecorded, entry: Entry) -> CaseState:
    """Fold in what was given, the bag that it hung, the reading that it asks for, the order that it carries out."""
    state = _with(state, event)
    return with_container(state, event.hung) if event.hung else state


def changed(state: CaseState, event: events.InterventionChanged, entry: Entry) -> CaseState:
    """Fold in a new rate or an end."""
    return _with(state, event)


def _with(state: CaseState, event: events.InterventionRecorded | events.InterventionChanged) -> CaseState:
    state = with_dose(state, event.dose)
    if event.flagged:
        state = flagged(state, event.dose.id)
    if event.reassessment:
        state = waits(state, event.reassessment)
    return ordered.became(state, event.became) if event.became else state


def with_dose(state: CaseState, dose: Given) -> CaseState:
    """The state with a treatment by the time it was given; one already known is replaced."""
    return replace(state, doses=tuple(sorted(put(state.doses, dose), key=lambda each: (each.given_at, each.seq))))


def with_container(state: CaseState, container: InHand) -> CaseState:
    """The state with a syringe, bag or cylinder by when it was mixed or hung; one already known is replaced."""
    known = put(state.containers, container)
    return replace(state, containers=tuple(sorted(known, key=lambda each: (each.at, each.seq))))


def flagged(state: CaseState, dose_id: str, flag: bool = True) -> CaseState:
    """The state with a dose among those outside limits, or no more."""
    others = tuple(each for each in state.flagged if each != dose_id)
    return replace(state, flagged=(*others, dose_id) if flag else others)


def waits(state: CaseState, reassessment: Reassessment) -> CaseState:
    """The state with a reading asked for; one that is done is asked for no more."""
    others = without(state.reassessments, reassessment.id)
    if reassessment.state == DONE:
        return replace(state, reassessments=others)
    return replace(state, reassessments=tuple(sorted((*others, reassessment), key=by_due)))


def by_due(reassessment: Reassessment) -> tuple[datetime, str]:
    """The order of the reassessments: soonest first, and of two at once always the same first."""
    return reassessment.due_at, reassessment.id


def moved(state: CaseState, event: events.ReassessmentMoved, entry: Entry) -> CaseState:
    """A reassessment is done, overdue or unknown."""
    known = next(each for each in state.reassessments if each.id == event.reassessment)
    return waits(state, replace(known, state=event.state, done_at=event.done_at))


def judged_anew(state: CaseState, event: events.InterventionJudgedAnew, entry: Entry) -> CaseState:
    """A dose has another verdict."""
    state = with_dose(state, replace(state.dose(event.intervention), verdict=event.verdict))
    return flagged(state, event.intervention, event.flagged)


def taken_back(state: CaseState, dose_id: str) -> CaseState:
    """A dose counts no more, nor what it asked for, nor the bag that it hung."""
    state = with_dose(state, replace(state.dose(dose_id), in_error=True))
    hung = [each for each in state.containers if each.hung and each.id == dose_id]
    asked = tuple(each for each in state.reassessments if each.intervention != dose_id)
    state = flagged(replace(state, reassessments=asked), dose_id, False)
    return with_container(state, replace(hung[0], in_error=True)) if hung else state


def procedure(state: CaseState, event: events.ProcedureRecorded, entry: Entry) -> CaseState:
    """A way into the circulation stands on the card."""
    return replace(state, access=tuple(chain(state.access, [event.access]))) if event.access else state


def mixed(state: CaseState, event: events.ContainerRecorded, entry: Entry) -> CaseState:
    """A syringe, bag or cylinder is in hand."""
    return with_container(state, event.container)


def discarded(state: CaseState, event: events.ContainerDiscarded, entry: Entry) -> CaseState:
    """A syringe, bag or cylinder is in hand no more."""
    known = next(each for each in state.containers if each.id == event.container)
    return with_container(state, replace(known, discarded_at=event.discarded_at))
