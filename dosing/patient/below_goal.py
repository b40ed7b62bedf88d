"""How deep and how long the pressure was below its goal: a measure of what was, not a prognosis.

Straight lines between readings, and the area between line and goal, from the first reading to the last (trapezoids,
cut where the line crosses the goal). Readings further apart than a gap are not joined: nothing is known of the time
between, so it counts neither as low nor as fine. Nor are those joined between which no pressure could be obtained: that
is worse than any number, and no number is made up for it. The numbers and their sources stand in ``below_goal.toml``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from dosing.ground.facts import Goal, Reading
from dosing.ground.tables import load
from dosing.patient.pressure import mean_mmhg

_LONGEST = float(load("patient/below_goal")["gap"]["longest_min"])
_MINUTE = 60.0
Point = tuple[datetime, float | None]


@dataclass(frozen=True, slots=True)
class BelowGoal:
    """``mmhg_min`` is depth times minutes below the goal, ``minutes`` the time below it.

    ``measured_min`` is the time between readings that could be joined, ``gap_min`` that between those that could not,
    both from ``since`` on, the first reading.
    """

    mmhg_min: float
    minutes: float
    measured_min: float
    gap_min: float
    since: datetime

    def as_dict(self) -> dict[str, object]:
        """As the card shows it, to two decimals."""
        names = ("mmhg_min", "minutes", "measured_min", "gap_min")
        return {**{name: round(getattr(self, name), 2) for name in names}, "since": self.since}


def below_goal(readings: Iterable[Reading], goal: Goal) -> BelowGoal | None:
    """What the readings, oldest first, say against the goal in force now; None before two held its measure.

    ``goal`` decides by its own measure, systolic or MAP. The readings are those that are at hand, so that the measure
    begins with the first of them.
    """
    points = _points(readings, goal.measure)
    if sum(value is not None for _, value in points) < 2:
        return None
    area = low = measured = gap = 0.0
    floor = goal.floor
    for (start, first), (end, second) in pairwise(points):
        minutes = (end - start).total_seconds() / _MINUTE
        if first is None or second is None or minutes > _LONGEST:
            gap += minutes
            continue
        measured += minutes
        if first < floor or second < floor:
            part, depth = _below(floor - first, floor - second)
            low += part * minutes
            area += part * minutes * depth
    return BelowGoal(area, low, measured, gap, points[0][0])


def _points(readings: Iterable[Reading], measure: str) -> Sequence[Point]:
    """When the measure was taken, and its value; None where no pressure could be obtained."""
    return [
        (each.taken_at, value)
        for each in readings
        if (value := mean_mmhg(each) if measure == "map" else each.sbp) is not None or each.bp_method == "unobtainable"
    ]


def _below(first: float, second: float) -> tuple[float, float]:
    """Which part of the line lies below the goal, and its mean depth: a trapezoid's, or a triangle's where it crosses.

    ``first`` and ``second`` are how far its ends are below the goal, negative above it; one of them is below.
    """
    deepest, shallowest = max(first, second), min(first, second)
    if shallowest >= 0:
        return 1.0, (first + second) / 2
    return deepest / (deepest - shallowest), deepest / 2
