"""What is known of patient and journey, who has control, how the case began and ended."""

from __future__ import annotations

from datetime import datetime

from msgspec.structs import replace

from consult import events
from consult.case.fold import measured, ordered, questions, treated
from consult.case.fold.entry import Entry
from consult.case.fold.lists import without
from consult.state.case import CLOSED, HANDED_OVER, OPEN, CaseState
from consult.state.control import FormerUnit, Offer
from consult.state.parts import Named
from dosing.ground.facts import FormerAims, Goal
from dosing.ground.phases import PhaseChange

KEPT_GOALS = 20
Aims = dict[str, Goal] | None


def opened(event: events.CaseOpened, entry: Entry) -> CaseState:
    """The state with which a case begins; nobody could take control before it was heard of."""
    return CaseState(
        id=event.id,
        unit=event.unit,
        rule_set=event.judged.rule_set,
        rules=event.judged.record,
        opened_at=event.opened_at,
        patient=event.patient,
        complaint=event.complaint,
        impression=event.impression,
        destination=event.destination,
        incident=event.incident,
        eta=event.eta,
        heard_of_at=entry.received_at,
        not_accepted_since=entry.received_at,
        version=1,
    )


def changed(state: CaseState, event: events.CaseChanged, entry: Entry) -> CaseState:
    """What is known of the patient or the journey has changed."""
    return replace(
        treated.known_since(_aimed(state, event.aimed, entry), event.known_since or {}),
        version=state.seq + 1,
        patient=event.patient,
        complaint=event.complaint,
        impression=event.impression,
        destination=event.destination,
        destination_told=questions.destination_told(state, event.destination, entry),
        incident=event.incident,
        eta=event.eta,
    )


def accepted(state: CaseState, event: events.CaseAccepted, entry: Entry) -> CaseState:
    """A physician has taken control."""
    who = Named(event.membership, event.physician)
    return replace(state, physician=who, not_accepted_since=None, offered=None)


def offered(state: CaseState, event: events.ControlOffered, entry: Entry) -> CaseState:
    """Who has control offers it to a colleague."""
    by = Named(entry.by.id, entry.by.name) if entry.by else Named("", "")
    told = {name: getattr(event, name) for name in ("id", "handover", "to", "note")}
    return replace(state, offered=Offer(**told, by=by, at=entry.received_at))


def released(state: CaseState, event: events.CaseReleased, entry: Entry) -> CaseState:
    """Nobody has control."""
    return replace(state, physician=None, not_accepted_since=entry.received_at, offered=None)


def moved(state: CaseState, event: events.CaseMoved, entry: Entry) -> CaseState:
    """Another unit has the patient; where that has coverage the one before did not say."""
    before = FormerUnit(event.left.id, event.left.call_sign, event.moved_at)
    return replace(
        state,
        unit=event.unit,
        former_units=(*state.former_units, before),
        patient=replace(state.patient, label=event.label),
        no_coverage_until=None,
        moved_not_seen_since=entry.received_at,
    )


def move_seen(state: CaseState, event: events.MoveSeen, entry: Entry) -> CaseState:
    """The new crew knows that it has the patient."""
    return replace(state, moved_not_seen_since=None)


def handed_over(state: CaseState, event: events.CaseHandedOver, entry: Entry) -> CaseState:
    """The patient was handed over."""
    return replace(_over(state, event.ended_at), state=HANDED_OVER, outcome="handed_over")


def closed(state: CaseState, event: events.CaseClosed, entry: Entry) -> CaseState:
    """The case ended."""
    return replace(_over(state, event.ended_at), state=CLOSED, outcome=event.outcome)


def _over(state: CaseState, at: datetime) -> CaseState:
    """What waited for somebody to see or take it ends with the case."""
    return replace(state, ended_at=at, destination_told=None, offered=None, moved_not_seen_since=None)


def reopened(state: CaseState, event: events.CaseReopened, entry: Entry) -> CaseState:
    """The case goes on."""
    since = None if state.physician else entry.received_at
    state = replace(state, state=OPEN, outcome="", ended_at=None, not_accepted_since=since)
    if event.label is not None:
        state = replace(state, patient=replace(state.patient, label=event.label))
    return judged(_aimed(state, event.aimed, entry), event.judged) if event.judged else state


def rules_changed(state: CaseState, event: events.CaseRulesChanged, entry: Entry) -> CaseState:
    """The case is judged by another rule set."""
    return judged(_aimed(state, event.aimed, entry), event.judged)


def _aimed(state: CaseState, aimed: Aims, entry: Entry) -> CaseState:
    """The state that still knows what the rules aimed at until now: what was measured then is held against that."""
    if not aimed:
        return state
    until = max([entry.at, *(each.until for each in state.former_aims[-1:])])
    former = (*state.former_aims, FormerAims(until=until, by_phase=aimed))
    return replace(state, former_aims=former[-KEPT_GOALS:])


def judged(state: CaseState, by: events.Judged) -> CaseState:
    """The state under this rule set."""
    return replace(state, rules=by.record, rule_set=by.rule_set)


def goal(state: CaseState, event: events.GoalSet, entry: Entry) -> CaseState:
    """A physician has set the pressure goal; the one before is kept for the time in which it held."""
    former = (*state.former_goals, state.goal)[-KEPT_GOALS:] if state.goal else ()
    told = {name: getattr(event, name) for name in ("measure", "floor", "ceiling", "because")}
    return replace(state, goal=Goal(**told, since=entry.at), former_goals=former)


def phase(state: CaseState, event: events.PhaseChanged, entry: Entry) -> CaseState:
    """The case is in another phase from then on; one told late stands before what came after it."""
    return with_phase(state, PhaseChange(event.id, event.phase, entry.at))


def with_phase(state: CaseState, change: PhaseChange) -> CaseState:
    """The state with one more change of phase, at its time."""
    return replace(state, phases=tuple(sorted((*state.phases, change), key=lambda each: each.at)))


def coverage(state: CaseState, event: events.CoverageAnnounced, entry: Entry) -> CaseState:
    """The crew has said until when it cannot be heard."""
    return replace(state, no_coverage_until=event.until, coverage_back_from=event.back_from)


def corrected(state: CaseState, event: events.EntryCorrected, entry: Entry) -> CaseState:
    """An entry leaves every computation; a note is in none."""
    kind, entry_id = event.target.kind, event.target.id
    if event.measured:
        state = measured.taken_back(state, event.measured)
    if kind == "intervention":
        state = treated.taken_back(state, entry_id)
    if kind == "container":
        wrong = next(each for each in state.containers if each.id == entry_id)
        state = treated.with_container(state, replace(wrong, in_error=True))
    if kind == "phase":
        state = replace(state, phases=without(state.phases, entry_id))
    if kind == "procedure":
        kept = {name: without(getattr(state, name), entry_id) for name in ("access", "procedures", "shocks")}
        state = replace(state, **kept)
    for reassessment in event.reassessments:
        state = treated.waits(state, reassessment)
    state = treated.added_up(treated.counted(state, event.unanswered), event.added_up)
    return ordered.became(state, event.became) if event.became else state
