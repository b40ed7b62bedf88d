"""Which pressure is aimed at for this patient, and the limits that follow from it."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from msgspec import Struct, structs

from dosing.ground.exact import Exact, exact
from dosing.ground.facts import Age, Facts, Goal, Patient
from dosing.ground.patient import child_age, completed_years, is_adult
from dosing.ground.phases import PHASES, TRANSPORT, has_pulse, pulse_again
from dosing.patient import children
from dosing.rules.rule_set import GoalRule, RuleSet


class NoGoalError(LookupError):
    """The rule set has no goal of a measure for an adult."""


class PressureLimits(NamedTuple):
    """What a pressure is held against, in mmHg, exact.

    A child's systolic pressure is critical at its limit already, where that lies below the floor, an adult's only under
    it. ``usual`` is the adult's usual range of the MAP; children have none here. ``leads`` judges where both measures
    stand alike.
    """

    map_floor: Exact
    map_critical: Exact
    sbp_floor: Exact
    sbp_critical: Exact
    adult: bool
    usual: tuple[Exact, Exact] | None = None
    leads: str = "map"


def goal_for(facts: Facts, rules: RuleSet) -> Goal:
    """The goal in force: the physician's, else the rule set's by phase, impression and injuries, else the age's.

    Both floors are always there: a physician's goal replaces the floor of its own measure only. One from before a
    cardiac arrest gives way where what holds once the pulse is back is higher: what was permitted is so no more.
    """
    return _with_the_physicians(facts, _standing_goal(facts.patient, facts.impression, rules, _phase(facts)))


def _with_the_physicians(facts: Facts, standing: Goal) -> Goal:
    goal = facts.goal
    if goal is None or _given_way(goal, standing, facts):
        return standing
    other = standing.other_floor if standing.measure == goal.measure else standing.floor
    return structs.replace(goal, other_floor=other)


class InForce(Struct, frozen=True):
    """A goal from a time on, None: from the beginning, and whether there was a pulse then."""

    since: datetime | None
    goal: Goal
    pulse: bool


def goals_in_force(facts: Facts, rules: RuleSet) -> list[InForce]:
    """Each goal that was in force, oldest first: by what physicians set, by the phases, by what the rules said then."""
    set_here = [each for each in (*facts.former_goals, facts.goal) if each is not None]
    turns = {each.since for each in set_here if each.since} | {each.at for each in facts.phases}
    turns |= {each.until for each in facts.former_aims}
    return [_in_force(facts, set_here, at, rules) for at in (None, *sorted(turns))]


def _in_force(facts: Facts, set_here: list[Goal], at: datetime | None, rules: RuleSet) -> InForce:
    phases = tuple(each for each in facts.phases if at is not None and each.at <= at)
    held = [each for each in set_here if each.since is None or (at is not None and each.since <= at)]
    then = structs.replace(facts, phases=phases, goal=held[-1] if held else None)
    former = next((each for each in facts.former_aims if at is None or at < each.until), None)
    goal = _with_the_physicians(then, former.by_phase[_phase(then)]) if former else goal_for(then, rules)
    return InForce(at, goal, has_pulse(phases))


def aimed_at(patient: Patient, impression: str, rules: RuleSet) -> dict[str, Goal]:
    """What the rule set aims at for this patient in each phase."""
    return {phase: _standing_goal(patient, impression, rules, phase) for phase in PHASES}


def _given_way(goal: Goal, standing: Goal, facts: Facts) -> bool:
    back = pulse_again(facts.phases)
    if back is None or goal.since is None or goal.since >= back.at:
        return False
    floor = standing.floor if standing.measure == goal.measure else standing.other_floor
    return floor is not None and exact(floor) > exact(goal.floor)


def _phase(facts: Facts) -> str:
    """The newest phase: a goal is that of now, as the physician's is."""
    return facts.phases[-1].phase if facts.phases else TRANSPORT


# Each look at a case asks for the same few again and again.
@lru_cache(maxsize=1024)
def limits_for(patient: Patient, goal: Goal | None, rules: RuleSet) -> PressureLimits:
    """The limits that follow from the goal; without one, those of the age."""
    standing = _standing_goal(patient, "undifferentiated", rules)
    map_floor, sbp_floor = (_floor(measure, goal, standing) for measure in ("map", "sbp"))
    age = child_age(patient)
    if age:
        return _child(patient, age, map_floor, sbp_floor, rules)._replace(leads="sbp")
    return _adult(patient, map_floor, sbp_floor, rules)._replace(leads=goal.measure if goal else "map")


def _floor(measure: str, goal: Goal | None, standing: Goal) -> Exact:
    for candidate in (goal, standing):
        if candidate is None:
            continue
        found = candidate.floor if candidate.measure == measure else candidate.other_floor
        if found is not None:
            return exact(found)
    raise NoGoalError(measure)


def _critical(limit: Exact, floor: Exact, rules: RuleSet, never_under: float | None = None) -> Exact:
    """A goal set below the critical limit takes it along, never under what is critical whatever goal is permitted."""
    moved = limit if floor >= limit else floor - exact(rules.pressure.critical_under_goal)
    return moved if never_under is None else max(moved, exact(never_under))


def _adult(patient: Patient, map_floor: Exact, sbp_floor: Exact, rules: RuleSet) -> PressureLimits:
    rule = rules.pressure
    critical_sbp = rule.critical_sbp_head if "head" in patient.injuries else rule.critical_sbp
    return PressureLimits(
        map_floor=map_floor,
        map_critical=_critical(exact(rule.critical_map), map_floor, rules, rule.always_critical_map),
        sbp_floor=sbp_floor,
        sbp_critical=_critical(exact(critical_sbp), sbp_floor, rules, rule.always_critical_sbp),
        adult=True,
        usual=(exact(rule.usual_map_floor), exact(rule.usual_map_ceiling)),
    )


def _child(patient: Patient, age: Age, map_floor: Exact, sbp_floor: Exact, rules: RuleSet) -> PressureLimits:
    rule = rules.pressure
    large = completed_years(age) >= rule.always_critical_years
    never_map, never_sbp = (rule.always_critical_map, rule.always_critical_sbp) if large else (None, None)
    return PressureLimits(
        map_floor=map_floor,
        map_critical=_critical(children.map_two_points(age), map_floor, rules, never_map),
        sbp_floor=sbp_floor,
        sbp_critical=_critical(children.systolic_critical(age, patient.injuries), sbp_floor, rules, never_sbp),
        adult=False,
    )


@lru_cache(maxsize=1024)
def _standing_goal(patient: Patient, impression: str, rules: RuleSet, phase: str = TRANSPORT) -> Goal:
    """The rule set's or the age's goal: its measure is that of the first rule that fits, a child's is the systolic."""
    fitting = [rule for rule in rules.goals if fits(rule, patient, impression, phase)]
    floors = {rule.measure: rule.floor for rule in reversed(fitting)}
    age = child_age(patient)
    if age is not None:
        floors = {"sbp": float(children.systolic_floor(age)), "map": float(children.map_floor(age))} | floors
    if missing := {"map", "sbp"} - set(floors):
        raise NoGoalError(f"{rules.name}: no {', '.join(missing)} goal")
    measure = fitting[0].measure if fitting else "sbp"
    return Goal(
        measure=measure,
        floor=floors[measure],
        ceiling=fitting[0].ceiling if fitting else None,
        because=fitting[0].because if fitting else children.because(patient.injuries),
        other_floor=floors["sbp" if measure == "map" else "map"],
    )


def fits(rule: GoalRule, patient: Patient, impression: str, phase: str = TRANSPORT) -> bool:
    """Whether a goal is for this patient."""
    years = completed_years(patient.age) if patient.age else None
    injuries, weeks = set(patient.injuries), patient.pregnancy_weeks or 0
    return (
        (rule.adult is None or rule.adult == is_adult(patient))
        and (not rule.impressions or impression in rule.impressions)
        and (not rule.phases or phase in rule.phases)
        and (not rule.injuries or bool(injuries & rule.injuries))
        and not injuries & rule.without_injuries
        and (not rule.bleeding_causes or patient.bleeding_cause in rule.bleeding_causes)
        and (rule.from_years is None or (years is not None and years >= rule.from_years))
        and (rule.under_years is None or (years is not None and years < rule.under_years))
        and (rule.from_weeks is None or weeks >= rule.from_weeks)
        and (rule.under_weeks is None or weeks < rule.under_weeks)
        and (rule.bleeding_controlled is None or rule.bleeding_controlled == patient.bleeding_controlled)
    )
