"""A case from opening to close: what is known of the patient and the journey, and who has control."""

from __future__ import annotations

from datetime import timedelta

import msgspec
from msgspec import UNSET
from msgspec.structs import asdict, replace

from consult import events, problems
from consult.case.decide import known_since, order_book, question_book
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.entries import (
    AcceptEntry,
    CaseChangeEntry,
    CaseEntry,
    CloseEntry,
    CoverageEntry,
    GoalEntry,
    HandoverEntry,
    PatientPart,
    ReasonEntry,
)
from consult.events import CaseChanged, Judged
from consult.state.case import CLOSED, OPEN, CaseState
from consult.state.parts import Author, Named, UnitNamed
from dosing.ground.facts import Goal, Patient
from dosing.ground.language import gettext as _
from dosing.patient.goals import aimed_at
from dosing.rules.rule_set import RuleSet

IMPRESSION = "undifferentiated"
NOT_OF_JOURNEY = ("patient", "destination_seen")


def open_case(asked: Asked[CaseEntry], unit: UnitNamed, judged: Judged, label: str | None) -> events.CaseOpened:
    """The event with which a case begins; `label` tells its patient from others of the unit."""
    entry = asked.content
    return events.CaseOpened(
        id=asked.id,
        content=asked.sent,
        unit=unit,
        judged=judged,
        opened_at=asked.at,
        patient=replace(entry.patient, label=label),
        complaint=entry.complaint or "",
        impression=entry.impression or IMPRESSION,
        destination=entry.destination or "",
        incident=entry.incident or "",
        eta=entry.eta,
    )


def patch(known: Known, asked: Asked[CaseChangeEntry]) -> Decided:
    """Change what is known of patient or journey."""
    state, entry = known.state, asked.content
    patient = state.patient if entry.patient is UNSET else _patched(state.patient, entry.patient)
    told = {name: value for name, value in asdict(entry).items() if value is not UNSET and name not in NOT_OF_JOURNEY}
    decided = Decided()
    changed = replace(_as_known(state), changes=asked.sent, patient=patient, **_emptied(told))
    learned = known_since.learned(known, changed.patient, changed.impression, changed.complaint, asked.now)
    if learned:
        marks, decided.happened = known_since.about_what_runs(learned)
        changed = replace(changed, known_since=marks or None)
    if told or entry.patient is not UNSET or entry.destination_seen is UNSET:
        aimed = aimed_so_far(known, changed.patient, changed.impression, known.rules)
        decided.events.append(replace(changed, aimed=aimed))
    if _sees(state, asked):
        decided.events.append(events.DestinationSeen(destination=state.destination))
    if learned:
        decided.events += known_since.about_orders(learned, asked.by)
    return decided


def aimed_so_far(known: Known, patient: Patient, impression: str, rules: RuleSet) -> dict[str, Goal] | None:
    """What was aimed at so far in each phase, where that is another for this patient by these rules."""
    before = aimed_at(known.state.patient, known.state.impression, known.rules)
    return None if before == aimed_at(patient, impression, rules) else before


def _sees(state: CaseState, asked: Asked[CaseChangeEntry]) -> bool:
    """Whether the side that had not set the destination says that it has seen this very one."""
    told, seen = state.destination_told, asked.content.destination_seen
    side = "crew" if asked.by.is_crew else "physician"
    return told is not None and told.side != side and told.destination == seen


def _as_known(state: CaseState) -> CaseChanged:
    return CaseChanged(
        changes=msgspec.Raw(b"{}"),
        patient=state.patient,
        complaint=state.complaint,
        impression=state.impression,
        destination=state.destination,
        incident=state.incident,
        eta=state.eta,
    )


def _emptied(told: dict[str, object]) -> dict[str, object]:
    return {name: value if value is not None or name == "eta" else "" for name, value in told.items()}


def _patched(patient: Patient, part: PatientPart) -> Patient:
    told = {name: value for name, value in asdict(part).items() if value is not UNSET}
    return replace(patient, **told)


def name_patient(state: CaseState, letter: str) -> CaseChanged:
    """The patient gets a letter, so that two patients of one unit are told apart."""
    changes = msgspec.Raw(msgspec.json.encode({"patient": {"label": letter}}))
    return replace(_as_known(state), changes=changes, patient=replace(state.patient, label=letter))


def accept(known: Known, asked: Asked[AcceptEntry]) -> Decided:
    """Take control as a physician; from another physician only with `take_over`."""
    other, by = known.state.physician, asked.by
    if other and other.id != by.id and not asked.content.take_over:
        raise problems.WrongState(
            _("{physician} has control of this case: take over control if that is agreed.", physician=other.name)
        )
    return Decided([take_control(by, other)])


def take_control(by: Author, other: Named | None = None) -> events.CaseAccepted:
    """A physician takes control, perhaps from another."""
    taken_from = other.name if other and other.id != by.id else None  # what one keeps comes from nobody
    return events.CaseAccepted(physician=by.name, taken_from=taken_from, membership=by.id)


def handover(known: Known, asked: Asked[HandoverEntry]) -> Decided:
    """Hand the patient over; the case leaves the board."""
    if known.state.state != OPEN:
        raise problems.WrongState(_("The case was already {how}.", how=order_book.ended_words(known.state)))
    decided = Decided([events.CaseHandedOver(to=asked.content.to, ended_at=asked.at)])
    return _with_all_withdrawn(decided, known, asked)


def _with_all_withdrawn(decided: Decided, known: Known, asked: Asked[HandoverEntry] | Asked[CloseEntry]) -> Decided:
    """What was asked, ordered or to be done and is not finished ends with the case."""
    decided.add(order_book.withdraw_open(known.state.orders, asked.now, asked.by))
    decided.add(question_book.withdraw_open(known.state, asked.now, asked.by))
    return decided


def close(known: Known, asked: Asked[CloseEntry]) -> Decided:
    """Close the case with its outcome."""
    if known.state.state == CLOSED:
        raise problems.WrongState(_("The case was already {how}.", how=order_book.ended_words(known.state)))
    decided = Decided([events.CaseClosed(outcome=asked.content.outcome, ended_at=asked.at)])
    return _with_all_withdrawn(decided, known, asked)


def reopen(
    known: Known, asked: Asked[ReasonEntry], in_force: tuple[Judged, RuleSet] | None, label: str | None
) -> Decided:
    """Put a case that was handed over or closed back on the board, with a letter if need be.

    `in_force` are the rules by which it is judged from then on, where those are others than before.
    """
    if known.state.state == OPEN:
        raise problems.WrongState(_("The case is open."))
    judged, rules = in_force or (None, known.rules)
    aimed = aimed_so_far(known, known.state.patient, known.state.impression, rules)
    return Decided([events.CaseReopened(reason=asked.content.reason, judged=judged, label=label, aimed=aimed)])


def set_goal(known: Known, asked: Asked[GoalEntry]) -> Decided:
    """Set the pressure goal for this patient."""
    goal = asked.content
    if goal.ceiling is not None and goal.ceiling <= goal.floor:
        raise problems.Invalid.at("/ceiling", _("The ceiling must lie above the floor."))
    event = events.GoalSet(
        measure=goal.measure,
        floor=goal.floor,
        ceiling=goal.ceiling,
        reason=goal.reason,
        because=_("set by {by}: {reason}", by=asked.by.name, reason=goal.reason),
    )
    return Decided([event])


def coverage(known: Known, asked: Asked[CoverageEntry]) -> Decided:
    """The crew cannot be heard until then: its silence raises nothing before."""
    until, most = asked.content.until, known.rules.watch.coverage_most_min
    if until <= asked.at:
        raise problems.Invalid.at("/until", _("This time has passed: give a later one."), "not_ahead")
    if until > asked.at + timedelta(minutes=most):
        raise problems.Invalid.at(
            "/until", _("At most {most:g} minutes ahead: announce it again then.", most=most), "too_far_ahead"
        )
    back_from = asked.now + timedelta(minutes=known.rules.watch.no_contact_min)
    return Decided([events.CoverageAnnounced(until=until, back_from=back_from)])
