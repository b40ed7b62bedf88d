"""The only computation of the card: from the state and the rules; reads no clock."""

from __future__ import annotations

import msgspec
from msgspec import Struct
from msgspec.structs import asdict

from consult.case.arrest import Arrest, arrest
from consult.case.fold.measured import KEPT_READINGS
from consult.case.fold.treated import by_due
from consult.case.given import FluidsLine, GivenLine, fluids, totals
from consult.case.in_hand import HeldLine, lines
from consult.case.newest import Newest, newest
from consult.case.titrations import titrations
from consult.state.case import CaseState, Presence, Stands, facts_of
from consult.state.control import FormerUnit, Offer
from consult.state.done import Done
from consult.state.parts import (
    Alert,
    Given,
    KeptReading,
    Named,
    Order,
    RulesInForce,
    UnitNamed,
    WayIn,
)
from consult.state.questions import DestinationTold, Instruction, Question
from dosing.ground.facts import Countersign, Facts, Number, Patient, Reassessment
from dosing.ground.kinds import Id, Time
from dosing.ground.phases import Phase, has_pulse, pulse_again
from dosing.patient import pressure, reassess, trend
from dosing.patient.below_goal import below_goal
from dosing.patient.freshness import as_now
from dosing.patient.goals import InForce, goals_in_force, limits_for
from dosing.patient.response import Response, responses
from dosing.rules.rule_set import RuleSet
from dosing.tell.titration import Titrating

MOST_SHOWN = 60  # of each list (contract, "card")
FOR_THE_SUPERVISOR = "clock_offset"
# fmt: off
AS_KEPT = (
    "seq", "unit", "former_units", "moved_not_seen_since", "state", "phase", "phase_since",
    "opened_at", "ended_at", "incident", "patient", "complaint", "impression",
    "destination", "destination_told", "eta", "physician", "not_accepted_since", "offered",
    "rule_set", "procedures", "no_coverage_until", "coverage_back_from",
)
# fmt: on


class GoalShown(Struct, frozen=True, kw_only=True):
    """The pressure goal in force, in mmHg, `since` a physician set it; null holds from the beginning of the case on."""

    measure: str
    floor: Number
    ceiling: Number | None
    because: str
    since: Time | None


class Point(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What was measured at one time; `map_from`: where the MAP was measured too, whether it is that or computed."""

    t: Time
    sbp: Number | None
    dbp: Number | None
    map: Number | None
    hr: Number | None
    spo2: Number | None
    etco2: Number | None
    rr: Number | None
    bp_method: str | None = None
    map_from: str | None = None


class BelowGoal(Struct, frozen=True, kw_only=True):
    """How far and how long the pressure was below its goal: a measure, not a prognosis.

    From the readings that are kept, against the goal of their time. ``mmhg_min`` is depth times minutes. ``gap_min`` is
    the time that counts as not measured: between readings too far apart, or in an arrest. Nothing after ``until``
    counts. ``floors``: the goals, oldest first.
    """

    mmhg_min: float
    minutes: float
    measured_min: float
    gap_min: float
    since: Time
    until: Time | None
    floors: tuple[Number, ...]


class GoalHeld(Struct, frozen=True, kw_only=True):
    """What was aimed at from a time on (null: from the beginning), in mmHg of either measure (null: it has none)."""

    since: Time | None
    map_floor: Number | None
    sbp_floor: Number | None


class Card(Struct, frozen=True, kw_only=True):
    """One case as every screen shows it. Lists hold the newest 60, totals count all.

    ``trend``: oldest first. ``goals``: those that were in force too. ``map_slope``: mmHg per minute, never across an
    arrest; ``crossing_at``: when the pressure reaches its goal if it goes on like this. ``phase_since`` null: since the
    beginning. ``reassessments``: those not done, soonest first, none without a pulse, for they pause; ``unanswered``:
    how many more are overdue, and after what. ``orders``, ``questions``, ``instructions``, ``alerts``: the open ones;
    ``countersigns``: voice orders that wait for their physician. ``in_hand``: what is mixed, hung or open, oldest
    first; ``running``: what runs or is held; ``titrations``: what of it the crew steps up by order; ``procedures``: as
    recorded. ``destination_told``: a new destination that the other side has not seen. ``no_coverage_until``: until
    then the crew said that it cannot be reached; a contact from ``coverage_back_from`` on says that it can.
    ``not_accepted_since``: since then no physician has control, null if one has; ``offered``: to whom that physician
    offers it at the change of shift. ``moved_not_seen_since``: moved to ``unit`` then, and nobody of its crew has
    opened the case or entered anything yet; null if somebody has.
    """

    case: Id
    seq: int
    unit: UnitNamed
    former_units: tuple[FormerUnit, ...]
    moved_not_seen_since: Time | None
    state: Stands
    phase: Phase
    phase_since: Time | None
    opened_at: Time
    ended_at: Time | None
    outcome: str | None
    incident: str
    patient: Patient
    complaint: str
    impression: str
    destination: str
    destination_told: DestinationTold | None
    eta: Time | None
    physician: Named | None
    not_accepted_since: Time | None
    offered: Offer | None
    rule_set: RulesInForce
    goal: GoalShown
    vitals: Newest
    trend: tuple[Point, ...]
    map_slope: float | None
    crossing_at: Time | None
    below_goal: BelowGoal | None
    goals: tuple[GoalHeld, ...]
    fluids: FluidsLine
    given: tuple[GivenLine, ...]
    in_hand: tuple[HeldLine, ...]
    running: tuple[Given, ...]
    responses: tuple[Response, ...]
    doses: tuple[Given, ...]
    reassessments: tuple[Reassessment, ...]
    unanswered: dict[str, int]
    orders: tuple[Order, ...]
    questions: tuple[Question, ...]
    instructions: tuple[Instruction, ...]
    titrations: tuple[Titrating, ...]
    countersigns: tuple[Countersign, ...]
    access: tuple[WayIn, ...]
    procedures: tuple[Done, ...]
    arrest: Arrest | None
    alerts: tuple[Alert, ...]
    last_contact_at: Time
    no_coverage_until: Time | None
    coverage_back_from: Time | None


class Totals(Struct, frozen=True):
    """What is reckoned over all that was given and is in hand."""

    fluids: FluidsLine
    given: tuple[GivenLine, ...]
    in_hand: tuple[HeldLine, ...]


def totals_of(state: CaseState, facts: Facts, rules: RuleSet) -> Totals:
    """What was given in all and what is left in hand."""
    in_hand = lines(state.containers, facts, rules, MOST_SHOWN)
    return Totals(fluids(facts, rules), totals(facts, rules)[-MOST_SHOWN:], in_hand)


def same_totals(before: CaseState, after: CaseState) -> bool:
    """Whether nothing has changed that the totals are reckoned from: most entries change none of it."""
    kept = ("doses", "earlier", "containers")
    if any(getattr(before, name) is not getattr(after, name) for name in kept):
        return False
    gas = not after.containers or before.oxygen == after.oxygen
    names = ("patient", "impression", "rules", "ended_at")
    return gas and all(getattr(before, name) == getattr(after, name) for name in names)


def card_of(state: CaseState, presence: Presence, rules: RuleSet, known: Totals | None = None) -> Card:
    """The card; `known` are the totals where they are known already."""
    facts = facts_of(state)
    goal = pressure.goal_for(facts, rules)
    sums = known or totals_of(state, facts, rules)
    shown = [dose for dose in state.doses[-MOST_SHOWN:] if not dose.in_error]
    held = goals_in_force(facts, rules)
    below, floor = below_goal(facts.readings, held), float(limits_for(facts.patient, goal, rules).map_floor)
    present = as_now(facts).readings
    slope = trend.slope(present)
    return Card(
        case=state.id,
        **{name: getattr(state, name) for name in AS_KEPT},
        outcome=state.outcome or None,
        goal=GoalShown(**{name: getattr(goal, name) for name in GoalShown.__struct_fields__}),
        vitals=newest(state, facts, goal, rules),
        trend=tuple(_point(each) for each in state.readings[-KEPT_READINGS:]),
        map_slope=_rounded(slope),
        crossing_at=trend.crossing_at(present, floor, slope),
        below_goal=None if below is None else msgspec.convert(below.as_dict(), BelowGoal),
        goals=tuple(map(_held, held[-MOST_SHOWN:])),
        responses=tuple(responses(shown, facts, rules)),
        access=state.access[-MOST_SHOWN:],
        arrest=arrest(state, sums.given, rules),
        last_contact_at=presence.last_contact_at,
        **asdict(sums),
        **asdict(lists_of(state, rules)),
    )


def _held(force: InForce) -> GoalHeld:
    goal = force.goal
    floors = (goal.floor, goal.other_floor) if goal.measure == "map" else (goal.other_floor, goal.floor)
    return GoalHeld(since=force.since, map_floor=floors[0], sbp_floor=floors[1])


class Lists(Struct, frozen=True, kw_only=True):
    """The lists of a card that an entry beside the write's own can change."""

    running: tuple[Given, ...]
    doses: tuple[Given, ...]
    reassessments: tuple[Reassessment, ...]
    unanswered: dict[str, int]
    orders: tuple[Order, ...]
    titrations: tuple[Titrating, ...]
    questions: tuple[Question, ...]
    instructions: tuple[Instruction, ...]
    countersigns: tuple[Countersign, ...]
    alerts: tuple[Alert, ...]


def lists_of(state: CaseState, rules: RuleSet) -> Lists:
    """Those lists as they stand; a clock that is off is for the supervisor's list of alerts alone."""
    alerts = tuple(alert for alert in state.alerts if alert.kind != FOR_THE_SUPERVISOR)
    running = tuple(dose for dose in state.doses if dose.goes_on and not dose.in_error)
    return Lists(
        running=running[-MOST_SHOWN:],
        doses=state.doses[-MOST_SHOWN:],
        reassessments=_asked_for(state, rules)[:MOST_SHOWN],
        unanswered=state.unanswered if has_pulse(state.phases) else {},
        orders=state.orders[-MOST_SHOWN:],
        titrations=tuple(titrations(state, rules)),
        questions=state.questions[-MOST_SHOWN:],
        instructions=state.instructions[-MOST_SHOWN:],
        countersigns=state.countersigns[-MOST_SHOWN:],
        alerts=alerts[-MOST_SHOWN:],
    )


def _asked_for(state: CaseState, rules: RuleSet) -> tuple[Reassessment, ...]:
    """The readings that are asked for, soonest first: none without a pulse, and a set of its own once it is back."""
    if not has_pulse(state.phases):
        return ()
    if pulse_again(state.phases) is None:
        return state.reassessments  # kept soonest first
    facts = facts_of(state)
    first_set = reassess.after_arrest(facts, rules)
    asked = [reassess.after_pause(each, facts, rules) for each in state.reassessments]
    return tuple(sorted([*asked, *([first_set] if first_set else [])], key=by_due))


def _point(reading: KeptReading) -> Point:
    without = reading.bp_method in ("palpated", "unobtainable")
    return Point(
        t=reading.taken_at,
        sbp=reading.sbp,
        dbp=reading.dbp,
        map=reading.map,
        hr=reading.hr,
        spo2=reading.spo2,
        etco2=reading.etco2,
        rr=reading.rr,
        bp_method=reading.bp_method if without else None,
        map_from=None if reading.map_reported is None else pressure.mean_of(reading).source,
    )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
