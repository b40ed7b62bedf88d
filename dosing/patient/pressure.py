"""What a set of vitals says about the pressure: MAP, state and text, exactly as the API answers it.

Inside, a mean pressure is kept as its threefold, systolic + 2 x diastolic: a whole number for whole pressures, so that
95/50 is exactly 65 and 94/50 is below it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import starmap
from operator import attrgetter

from msgspec import Struct

from dosing.ground.exact import Exact, exact, plain, shown
from dosing.ground.facts import Goal, Patient, Reading
from dosing.ground.language import gettext as _
from dosing.patient.goals import NoGoalError, PressureLimits, goal_for, limits_for
from dosing.patient.signs import signs
from dosing.rules.rule_set import RuleSet

__all__ = ["Derived", "NoGoalError", "Pressure", "PressureLimits", "goal_for", "holds_pressure", "judge", "limits_for"]

FINE, BELOW, CRITICAL = range(3)
_MEASURED = attrgetter("bp_method", "sbp", "dbp", "map_reported")
PULSES = {"none": _("no pulse felt")}


@dataclass(frozen=True, slots=True)
class Mean:
    """The threefold mean pressure that decides, the computed one, and which of the two decides."""

    thirds: Exact | None = None
    computed: Exact | None = None
    source: str | None = None


class Pressure(Struct, frozen=True, kw_only=True):
    """How the pressure stands: contract, "Vitals"; ``judged_by`` is ``map``, ``sbp`` or, unobtainable, None.

    ``measured`` is what was measured in words, ``aim`` the goal, empty where the text names none.
    """

    state: str
    judged_by: str | None
    goal: float
    measured: str
    aim: str = ""

    @property
    def text(self) -> str:
        """Both on one line: ``MAP 54, goal 65``."""
        return ", ".join(filter(None, (self.measured, self.aim)))


class Derived(Struct, frozen=True, kw_only=True):
    """What follows from one set of vitals: pressures in mmHg, unrounded; all None where nothing was measured."""

    map: float | None = None
    map_computed: float | None = None
    map_shown: str | None = None
    map_from: str | None = None
    pulse_pressure: float | None = None
    shock_index: float | None = None
    pressure: Pressure | None = None
    signs: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, object]:
        """The contract's ``derived``, pressures and shock index rounded to two decimals."""
        pressure = self.pressure
        return {
            "map": _two(self.map),
            "map_computed": _two(self.map_computed),
            "map_shown": self.map_shown,
            "map_from": self.map_from,
            "pulse_pressure": _two(self.pulse_pressure),
            "shock_index": _two(self.shock_index),
            "pressure": pressure
            and {
                "state": pressure.state,
                "judged_by": pressure.judged_by,
                "goal": pressure.goal,
                "text": pressure.text,
            },
            "signs": list(self.signs),
        }


def holds_pressure(reading: Reading) -> bool:
    """Whether the set says anything about the pressure, be it that none could be obtained."""
    return reading.sbp is not None or mean_of(reading).thirds is not None or reading.bp_method == "unobtainable"


def mean_of(reading: Reading) -> Mean:
    """The mean pressure that decides: arterial the reported, cuff the lower, else the computed; palpated has none."""
    return _mean_of(reading.bp_method, reading.sbp, reading.dbp, reading.map_reported)


def mean_mmhg(reading: Reading) -> float | None:
    """The mean pressure that decides, in mmHg, or None."""
    return _mean_mmhg(reading.bp_method, reading.sbp, reading.dbp, reading.map_reported)


def means_mmhg(readings: Iterable[Reading]) -> list[float | None]:
    """The same for many."""
    return [*starmap(_mean_mmhg, map(_MEASURED, readings))]


# Each look at a case asks for the same few dozen pressures again and again.
@lru_cache(maxsize=4096)
def _mean_of(method: str | None, sbp: float | None, dbp: float | None, map_reported: float | None) -> Mean:
    if method in ("palpated", "unobtainable"):
        return Mean()
    computed = exact(sbp) + 2 * exact(dbp) if sbp is not None and dbp is not None else None
    if map_reported is None:
        return Mean(computed, computed, None if computed is None else "computed")
    reported = 3 * exact(map_reported)
    decides = computed is None or method == "arterial" or (method == "cuff" and reported < computed)
    return Mean(reported, computed, "reported") if decides else Mean(computed, computed, "computed")


@lru_cache(maxsize=4096)
def _mean_mmhg(method: str | None, sbp: float | None, dbp: float | None, map_reported: float | None) -> float | None:
    return _mmhg(_mean_of(method, sbp, dbp, map_reported).thirds)


def level_of(reading: Reading, limits: PressureLimits) -> int | None:
    """How bad a reading is: FINE, BELOW, CRITICAL, by the worse of mean and systolic.

    None where it says nothing: not low as far as known, but no MAP to say more.
    """
    return _level(reading.bp_method, reading.sbp, reading.dbp, reading.map_reported, limits)


@lru_cache(maxsize=4096)
def _level(
    method: str | None, sbp: float | None, dbp: float | None, map_reported: float | None, limits: PressureLimits
) -> int | None:
    if method == "unobtainable":
        return CRITICAL
    by_map, by_sbp = _map_level(_mean_of(method, sbp, dbp, map_reported).thirds, limits), _sbp_level(sbp, limits)
    worst = max(by_map or FINE, by_sbp or FINE)
    return None if by_map is None and worst < BELOW else worst


def judge(reading: Reading, patient: Patient, goal: Goal | None, rules: RuleSet) -> Derived:
    """Everything the contract derives from one set; ``goal`` as ``goal_for`` gives it, None the age's own."""
    mean = mean_of(reading)
    pressure, map_shown = None, None
    if holds_pressure(reading):
        limits = limits_for(patient, goal, rules)
        map_shown = show_map(mean.thirds, limits)
        pressure = _pressure(reading, mean.thirds, map_shown, limits)
    sbp, dbp = (None if value is None else exact(value) for value in (reading.sbp, reading.dbp))
    return Derived(
        map=_mmhg(mean.thirds),
        map_computed=_mmhg(mean.computed),
        map_shown=map_shown,
        map_from=mean.source,
        pulse_pressure=None if sbp is None or dbp is None else _number(sbp - dbp),
        shock_index=reading.hr / reading.sbp if reading.hr is not None and reading.sbp else None,
        pressure=pressure,
        signs=tuple(signs(reading, patient)),
    )


def above(reading: Reading, judged: Derived, goal: Goal | None) -> str | None:
    """What a pressure lies above: its goal's ``ceiling``, else the ``usual`` range; None where above neither."""
    state = judged.pressure.state if judged.pressure else "unknown"
    if state in ("critical", "below_goal"):
        return None
    if goal is not None and goal.ceiling is not None:
        ceiling, sbp, thirds = exact(goal.ceiling), reading.sbp, mean_of(reading).thirds
        value = (None if sbp is None else 3 * exact(sbp)) if goal.measure == "sbp" else thirds
        if value is not None and value > 3 * ceiling:
            return "ceiling"
    return "usual" if state == "above_range" else None


@lru_cache(maxsize=4096)
def show_map(thirds: Exact | None, limits: PressureLimits) -> str | None:
    """The mean pressure as a whole number, with one decimal where that would cross a threshold."""
    if thirds is None:
        return None
    below: tuple[Exact, ...] = (limits.map_critical, limits.map_floor)
    above: tuple[Exact, ...] = ()
    if limits.usual:
        below, above = (*below, limits.usual[0]), (limits.usual[1],)
    return shown(Fraction(thirds) / 3, below=below, above=above)


def _pressure(reading: Reading, thirds: Exact | None, map_shown: str | None, limits: PressureLimits) -> Pressure:
    if reading.bp_method == "unobtainable":
        goal = limits.map_floor if limits.adult else limits.sbp_floor
        return Pressure(state="critical", judged_by=None, goal=_number(goal), measured=_unobtainable(reading.pulses))
    by_map, by_sbp = _map_level(thirds, limits), _sbp_level(reading.sbp, limits)
    state = _state(max(by_map or FINE, by_sbp or FINE), thirds, limits)
    if reading.sbp is None or _mean_decides(by_map, by_sbp or FINE, limits):
        goal, measured = limits.map_floor, f"MAP {map_shown}"
        return Pressure(
            state=state, judged_by="map", goal=_number(goal), measured=measured, aim=_("goal {goal}", goal=plain(goal))
        )
    goal, unknown = limits.sbp_floor, state == "unknown"
    measured = _systolic_text(reading.sbp, reading.bp_method, limits) + (_(", MAP unknown") if unknown else "")
    aim = "" if unknown else _("goal {goal}", goal=plain(goal))
    return Pressure(state=state, judged_by="sbp", goal=_number(goal), measured=measured, aim=aim)


def _state(worst: int, thirds: Exact | None, limits: PressureLimits) -> str:
    if worst == CRITICAL:
        return "critical"
    if worst == BELOW:
        return "below_goal"
    if thirds is None:
        return "unknown"
    if limits.usual is None or thirds < 3 * limits.usual[0]:
        return "at_goal"
    return "normal_range" if thirds <= 3 * limits.usual[1] else "above_range"


def _mean_decides(by_map: int | None, by_sbp: int, limits: PressureLimits) -> bool:
    """The worse of the two; where both stand alike an adult is judged by the goal's measure, a child by systolic."""
    return by_map is not None and (by_map > by_sbp or (by_map == by_sbp and limits.leads == "map"))


def _map_level(thirds: Exact | None, limits: PressureLimits) -> int | None:
    if thirds is None:
        return None
    if thirds < 3 * limits.map_critical:
        return CRITICAL
    return BELOW if thirds < 3 * limits.map_floor else FINE


def _sbp_level(sbp: float | None, limits: PressureLimits) -> int | None:
    if sbp is None:
        return None
    value = exact(sbp)
    if value < limits.sbp_critical or (value == limits.sbp_critical < limits.sbp_floor and not limits.adult):
        return CRITICAL
    return BELOW if value < limits.sbp_floor else FINE


def _systolic_text(sbp: float, method: str | None, limits: PressureLimits) -> str:
    number = shown(exact(sbp), below=(limits.sbp_critical, limits.sbp_floor))
    return _("systolic {number}{by}", number=number, by=_(" by palpation") if method == "palpated" else "")


def _unobtainable(pulses: str | None) -> str:
    felt = PULSES.get(pulses, _("{pulses} pulse felt", pulses=pulses)) if pulses else ""
    return _("pressure not obtainable") + (f", {felt}" if felt else "")


def _mmhg(thirds: Exact | None) -> float | None:
    return None if thirds is None else float(thirds / 3)


def _number(value: Exact) -> float:
    return int(value) if value == int(value) else float(value)


def _two(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
