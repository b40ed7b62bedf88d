"""When a pressure is too high: for the age, in late pregnancy, with an injured head, or above the ceiling of its goal.

Worked out from the readings in order (``walk``), so the same readings always give the same answer.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from functools import lru_cache
from operator import ge, gt

from dosing.ground.exact import Exact, exact, plain
from dosing.ground.facts import Facts, Goal, Patient, Reading
from dosing.ground.language import gettext as _
from dosing.ground.patient import completed_days
from dosing.patient.goals import goal_for
from dosing.patient.pressure import holds_pressure, mean_of
from dosing.rules.rule_set import RuleSet
from dosing.rules.vital_signs import TOO_HIGH, HighPressureRule
from dosing.watch.walk import DANGER, FINE, LEVELS, WARNING, Seen, recent, walk

NAMES = {"sbp": _("Systolic"), "dbp": _("Diastolic"), "map": "MAP"}
MARKED = {"sbp": "sbp", "dbp": "dbp", "map": "sbp"}  # where a card shows what is too high


@dataclass(frozen=True, slots=True)
class HighPressure:
    """A high pressure that stands: whether in danger now, and since it stands; its words; since when."""

    danger: bool
    was_danger: bool
    text: str
    since: datetime


@dataclass(frozen=True, slots=True)
class TooHigh:
    """One limit in mmHg: of which measure, how bad, for whom, so far under it that it is clearly fine."""

    measure: str
    level: int
    limit: Exact
    because: str
    clear_by: Exact
    beyond: Callable[[Exact, Exact], bool] = ge

    def text(self) -> str:
        """What is wrong, without the number: the next reading would make it an old one."""
        if self.beyond is gt:
            told = {"measure": NAMES[self.measure], "because": self.because, "limit": plain(self.limit)}
            return _("{measure} above {because} {limit}", **told)
        whom = f", {self.because}" if self.because else ""
        told = {"measure": NAMES[self.measure], "limit": plain(self.limit), "whom": whom}
        if self.level == DANGER:
            return _("{measure} dangerously high ({limit} or more{whom})", **told)
        return _("{measure} high ({limit} or more{whom})", **told)


def high_pressure(facts: Facts, rules: RuleSet) -> HighPressure | None:
    """The high pressure that stands after the newest reading, or None."""
    limits = limits_of(facts.patient, goal_for(facts, rules), rules)
    in_a_row = rules.watch.low_in_a_row
    seen = (_seen(each, limits) for each in reversed(facts.readings) if holds_pressure(each))
    known = walk(recent(seen, in_a_row), in_a_row)
    if known.since is None:
        return None
    worst = next(found for each in reversed(facts.readings) if (found := _worst(each, limits)))
    return HighPressure(known.level == DANGER, known.worst == DANGER, worst.text(), known.since)


def alarming_pressure(reading: Reading | None, goal: Goal, patient: Patient, rules: RuleSet) -> dict[str, str]:
    """How bad what is too high in a reading is, by the measurement that shows it: ``danger`` or ``warning``."""
    found = _worst(reading, limits_of(patient, goal, rules)) if reading else None
    return {} if found is None else {MARKED[found.measure]: LEVELS[found.level]}


def lowest_systolic(patient: Patient, rules: RuleSet) -> float | None:
    """From which systolic on this patient's pressure is too high at all, whatever the goal."""
    return min((float(each.limit) for each in limits_of(patient, None, rules) if each.measure == "sbp"), default=None)


@lru_cache(maxsize=1024)
def limits_of(patient: Patient, goal: Goal | None, rules: RuleSet) -> tuple[TooHigh, ...]:
    """The limits for this patient: of those that fit the lowest of each, and the ceiling of the goal in force."""
    days = None if patient.age is None else completed_days(patient.age)
    fitting = [each for each in rules.watch.high_pressure if each.fits(days, patient.pregnancy_weeks, patient.injuries)]
    found = [limit for name in TOO_HIGH if (limit := _lowest(name, fitting))]
    if goal is not None and goal.ceiling is not None:
        margin = exact(rules.watch.clear_above_goal)
        found.append(
            TooHigh(goal.measure, WARNING, exact(goal.ceiling), _("the ceiling of its goal,"), margin, beyond=gt)
        )
    return tuple(found)


def _lowest(name: str, fitting: Sequence[HighPressureRule]) -> TooHigh | None:
    stated = [(figure.value, rule) for rule in fitting if (figure := getattr(rule, name)) is not None]
    if not stated:
        return None
    limit, rule = min(stated, key=lambda each: each[0])
    level, _, measure = name.partition("_")
    margin = exact(rule.clear.value if rule.clear else 0)
    return TooHigh(measure, DANGER if level == "danger" else WARNING, exact(limit), rule.because, margin)


def _values(reading: Reading) -> Mapping[str, Exact | None]:
    thirds = mean_of(reading).thirds
    return {
        "sbp": None if reading.sbp is None else exact(reading.sbp),
        "dbp": None if reading.dbp is None else exact(reading.dbp),
        "map": None if thirds is None else Fraction(thirds) / 3,
    }


def _worst(reading: Reading, limits: Sequence[TooHigh]) -> TooHigh | None:
    """The limit that the reading is beyond, of several the worst, of those the first."""
    values = _values(reading)
    beyond = [each for each in limits if (value := values[each.measure]) is not None and each.beyond(value, each.limit)]
    return max(beyond, key=lambda each: each.level, default=None)


def _seen(reading: Reading, limits: Sequence[TooHigh]) -> Seen:
    values, worst = _values(reading), _worst(reading, limits)
    known = [(value, each) for each in limits if (value := values[each.measure]) is not None]
    clear = all(value <= each.limit - each.clear_by for value, each in known)
    return Seen(reading.taken_at, worst.level if worst else FINE, side=1, clear=clear)
