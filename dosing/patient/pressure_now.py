"""The pressure as it counts for a dose at one moment: how old, how far above its goal, low whatever the goal."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from dosing.ground.exact import Exact, exact, shown
from dosing.ground.facts import Facts, Patient, Reading
from dosing.ground.language import gettext as _
from dosing.ground.patient import child_age
from dosing.ground.phases import pulse_again
from dosing.patient import children, pressure
from dosing.rules.rule_set import RuleSet, Source

UNKNOWN = _("pressure unknown")
MEASURES = {"sbp": _("systolic"), "map": "MAP"}


@dataclass(frozen=True, slots=True)
class Below:
    """A measure that is under its absolute floor: ``sbp`` or ``map``, its value in words, the floor in mmHg."""

    measure: str
    value: str
    floor: float
    source: Source

    def text(self) -> str:
        """As a finding says it: ``MAP 54.7``."""
        return f"{MEASURES[self.measure]} {self.value}"


@dataclass(frozen=True, kw_only=True)
class PressureNow:
    """The newest set that holds a pressure; ``measured`` is its text without the goal.

    ``above`` is how far above the goal it is, in mmHg, None: not known or not; ``below_goal`` says that it is below it.
    ``below`` are the measures under their absolute floors, which no goal moves; ``partly`` says that one of the two is
    not known and the other not low. ``before_pulse``: the pulse that is there has come back since.
    """

    reading: Reading
    text: str
    measured: str
    above: float | None
    below_goal: bool
    below: tuple[Below, ...]
    partly: bool
    before_pulse: bool

    @property
    def taken_at(self) -> datetime:
        """When it was taken."""
        return self.reading.taken_at

    @property
    def unobtainable(self) -> bool:
        """Whether it was sought and could not be obtained."""
        return self.reading.bp_method == "unobtainable"

    @property
    def low(self) -> bool | None:
        """Whether it is low whatever goal is permitted; None where that is not known."""
        if self.unobtainable or self.below:
            return True
        return None if self.partly else False


def pressure_at(facts: Facts, rules: RuleSet, at: datetime) -> PressureNow | None:
    """The newest pressure taken up to ``at``, None where there is none."""
    known = (each for each in reversed(facts.readings) if each.taken_at <= at and pressure.holds_pressure(each))
    reading = next(known, None)
    if reading is None:
        return None
    goal = pressure.goal_for(facts, rules)
    judged = pressure.judge(reading, facts.patient, goal, rules).pressure
    back = pulse_again([each for each in facts.phases if each.at <= at])
    gone = back is not None and reading.taken_at < back.at
    reached = judged is None or judged.state not in ("below_goal", "critical")
    return PressureNow(
        reading=reading,
        text=judged.text if judged else UNKNOWN,
        measured=judged.measured if judged else UNKNOWN,
        above=_above(reading, goal.measure, facts, rules) if reached and not gone else None,
        below_goal=not reached and not gone,
        below=_below(reading, facts.patient, rules),
        partly=reading.sbp is not None and pressure.mean_of(reading).thirds is None,
        before_pulse=gone,
    )


def _above(reading: Reading, measure: str, facts: Facts, rules: RuleSet) -> float | None:
    """How far the measure of the goal stands above it; where that was not measured, the other."""
    floors = pressure.limits_for(facts.patient, pressure.goal_for(facts, rules), rules)
    mean = pressure.mean_mmhg(reading)
    over = {
        "map": None if mean is None else float(mean - floors.map_floor),
        "sbp": None if reading.sbp is None else float(reading.sbp - floors.sbp_floor),
    }
    other = "sbp" if measure == "map" else "map"
    return over[measure] if over[measure] is not None else over[other]


def _below(reading: Reading, patient: Patient, rules: RuleSet) -> tuple[Below, ...]:
    thirds = pressure.mean_of(reading).thirds
    measured = {
        "sbp": None if reading.sbp is None else exact(reading.sbp),
        "map": None if thirds is None else Fraction(thirds) / 3,
    }
    floors = _floors(patient, rules)
    return tuple(
        Below(measure, shown(value, below=(floor,)), float(floor), source)
        for measure, (floor, source) in floors.items()
        if (value := measured[measure]) is not None and value < floor
    )


def _floors(patient: Patient, rules: RuleSet) -> dict[str, tuple[Exact, Source]]:
    """A child's lowest pressures for its age, an adult's by the rule set."""
    age, rule = child_age(patient), rules.pressure
    if age is not None:
        systolic, mean = children.systolic_floor(age), children.map_floor(age)
        return {
            "sbp": (systolic, children.source("systolic_floor")),
            "map": (mean, children.source("map_floor")),
        }
    return {
        "sbp": (exact(rule.sedation_sbp), rule.sources["sedation_sbp"]),
        "map": (exact(rule.sedation_map), rule.sources["sedation_map"]),
    }
