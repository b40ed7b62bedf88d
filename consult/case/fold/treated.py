"""What was given, what is in hand, and the readings that are asked for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import TypeVar

from msgspec.structs import replace

from consult import events
from consult.case.dose import from_former_bag
from consult.case.fold import ordered
from consult.case.fold.entry import Entry
from consult.case.fold.lists import put, without
from consult.state.case import CaseState
from consult.state.check import KnownSince
from consult.state.parts import Given, InHand
from dosing.ground.facts import Reassessment
from dosing.ground.given_before import DrawnBefore, Earlier, GivenBefore

DONE, OVERDUE = "done", "overdue"
MOST_OVERDUE = 10  # readings that stand one by one, of each treatment; those before are counted
MOST_WAYS_IN = 60  # as many as a card shows; a fluid goes through the widest of those before
MOST_PROCEDURES = 60  # as many as a card shows; an airway before them is in place still
Sum = TypeVar("Sum", GivenBefore, DrawnBefore)


def recorded(state: CaseState, event: events.InterventionRecorded, entry: Entry) -> CaseState:
    """Fold in what was given, the bag that it hung, the reading that it asks for, the order that it carries out."""
    state = with_dose(state, event.dose)
    state = with_container(state, event.hung) if event.hung else state
    if event.countersign:
        state = replace(state, countersigns=(*state.countersigns, event.countersign))
    return _with(state, event)


def countersigned(state: CaseState, event: events.InterventionCountersigned, entry: Entry) -> CaseState:
    """A voice order waits no more; of a dose that is only added up nobody asks what became of it."""
    state = flagged(state, event.intervention, event.flagged)
    doses = tuple(_answered(dose, event) if dose.id == event.intervention else dose for dose in state.doses)
    return replace(state, doses=doses, countersigns=without(state.countersigns, event.intervention))


def _answered(dose: Given, event: events.InterventionCountersigned) -> Given:
    voice = dose.voice_order
    return dose if voice is None else replace(dose, voice_order=replace(voice, countersigned=event.countersigned))


def changed(state: CaseState, event: events.InterventionChanged, entry: Entry) -> CaseState:
    """Fold in a new rate or an end."""
    was = next((dose for dose in state.doses if dose.id == event.intervention), None)
    return _with(with_dose(state, dose_after(was, event)), event)


def dose_after(was: Given | None, event: events.InterventionChanged) -> Given:
    """The dose after a change: as the event has it, with the rates so far where it leaves them out."""
    if was is None or event.dose.rates:
        return event.dose
    before = was.rates
    if event.dose.concentration != was.concentration:
        before = from_former_bag(before, was.concentration)
    rates = (*before, event.rate) if event.rate else before
    return replace(event.dose, rates=tuple(sorted(rates, key=lambda rate: rate.at)))


def _with(state: CaseState, event: events.InterventionRecorded | events.InterventionChanged) -> CaseState:
    if event.flagged:
        state = flagged(state, event.dose.id)
    if event.reassessment:
        state = waits(state, event.reassessment)
    state = added_up(state, event.added_up)
    return ordered.became(state, event.became) if event.became else state


def with_dose(state: CaseState, dose: Given) -> CaseState:
    """The state with a treatment by the time it was given; one already known is replaced."""
    return replace(state, doses=in_time(put(state.doses, dose)))


def in_time(doses: Iterable[Given]) -> tuple[Given, ...]:
    """The doses by the time they were given; of two at once the one told first."""
    return tuple(sorted(doses, key=lambda each: (each.given_at, each.seq)))


def added_up(state: CaseState, by: events.AddedUp | None) -> CaseState:
    """The state without the doses that are kept one by one no more, and with what they come to."""
    if by is None:
        return state
    given, drawn = _put({**state.earlier.given, **by.given}), _put({**state.earlier.drawn, **by.drawn})
    kept = [*(dose for dose in state.doses if dose.id not in by.doses), *by.back]
    return replace(state, doses=in_time(kept), earlier=Earlier(until=by.until, given=given, drawn=drawn))


def _put(sums: dict[str, Sum | None]) -> dict[str, Sum]:
    return {line: each for line, each in sums.items() if each is not None}


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
    if event.counted:
        return counted(state, {event.counted: state.unanswered[event.counted] - 1})
    known = next(each for each in state.reassessments if each.id == event.reassessment)
    state = waits(state, replace(known, state=event.state, done_at=event.done_at))
    return _newest_overdue(state, known.because, entry.received_at) if event.state == OVERDUE else state


def renewed(state: CaseState, event: events.ReassessmentRenewed, entry: Entry) -> CaseState:
    """The next pressure is due while a pressor runs."""
    return waits(state, event.reassessment)


def _newest_overdue(state: CaseState, because: str, now: datetime) -> CaseState:
    """The state with but the newest overdue readings of a treatment one by one, and those before them counted.

    What runs may ask anew under the same id, and what is overdue before its time may yet be found in time.
    """
    may_change = {dose.id for dose in state.doses if dose.rates or dose.goes_on}
    overdue = [
        each
        for each in state.reassessments
        if each.because == because and each.state == OVERDUE and each.overdue_at <= now
    ]
    leave = {each.id for each in overdue[:-MOST_OVERDUE] if each.intervention not in may_change}
    if not leave:
        return state
    stay = tuple(each for each in state.reassessments if each.id not in leave)
    return counted(replace(state, reassessments=stay), {because: state.unanswered.get(because, 0) + len(leave)})


def counted(state: CaseState, unanswered: dict[str, int]) -> CaseState:
    """The state with so many overdue readings only counted, of the treatments that are named."""
    counts = {**state.unanswered, **unanswered}
    return replace(state, unanswered={because: number for because, number in counts.items() if number})


def judged_anew(state: CaseState, event: events.InterventionJudgedAnew, entry: Entry) -> CaseState:
    """A dose has another verdict; of one that is only added up nobody asks for it."""
    doses = tuple(
        replace(dose, verdict=event.verdict) if dose.id == event.intervention else dose for dose in state.doses
    )
    state = replace(state, doses=doses)
    return flagged(state, event.intervention, event.flagged)


def known_since(state: CaseState, marks: Mapping[str, tuple[KnownSince, ...]]) -> CaseState:
    """The state with what became known of the patient beside what runs."""
    if not marks:
        return state
    doses = (replace(dose, known_since=marks.get(dose.id, dose.known_since)) for dose in state.doses)
    return replace(state, doses=tuple(doses))


def taken_back(state: CaseState, dose_id: str) -> CaseState:
    """A dose counts no more, nor what it asked for, nor the bag that it hung."""
    doses = tuple(replace(dose, in_error=True) if dose.id == dose_id else dose for dose in state.doses)
    hung = [each for each in state.containers if each.hung and each.id == dose_id]
    asked = tuple(each for each in state.reassessments if each.intervention != dose_id)
    state = replace(state, doses=doses, reassessments=asked, countersigns=without(state.countersigns, dose_id))
    state = flagged(state, dose_id, False)
    return with_container(state, replace(hung[0], in_error=True)) if hung else state


def procedure(state: CaseState, event: events.ProcedureRecorded, entry: Entry) -> CaseState:
    """What was done is kept, the newest of it; of what lies before also the airway and the widest cannula in a vein.

    Of shocks each one counts.
    """
    if event.done:
        done = (*state.procedures, event.done)
        airways = [each for each in done[:-MOST_PROCEDURES] if each.procedure == "airway" and each.outcome == "done"]
        state = replace(state, procedures=(*sorted(airways, key=lambda each: each.at)[-1:], *done[-MOST_PROCEDURES:]))
    if event.shock:
        state = replace(state, shocks=(*state.shocks, event.shock))
    if event.access is None:
        return state
    ways = (*state.access, event.access)
    older, newest = ways[:-MOST_WAYS_IN], ways[-MOST_WAYS_IN:]
    lying = [each for each in older if each.procedure == "iv_access" and each.outcome == "done" and each.gauge]
    return replace(state, access=(*sorted(lying, key=lambda each: each.gauge or 0)[:1], *newest))


def mixed(state: CaseState, event: events.ContainerRecorded, entry: Entry) -> CaseState:
    """A syringe, bag or cylinder is in hand."""
    return added_up(with_container(state, event.container), event.added_up)


def discarded(state: CaseState, event: events.ContainerDiscarded, entry: Entry) -> CaseState:
    """A syringe, bag or cylinder is in hand no more."""
    known = next(each for each in state.containers if each.id == event.container)
    state = with_container(state, replace(known, discarded_at=event.discarded_at))
    return added_up(state, event.added_up)
