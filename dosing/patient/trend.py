"""Where the MAP is heading: a Theil-Sen slope, which one odd reading cannot turn."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import combinations
from statistics import median

from dosing.ground.facts import Reading
from dosing.ground.tables import load
from dosing.patient.pressure import mean_mmhg, means_mmhg

Points = list[tuple[float, float]]

_RULE = load("patient/trend")["trend"]
WINDOW = timedelta(minutes=_RULE["window_min"])  # before the newest reading: what the slope looks at
_MINUTE = 60.0


def slope(readings: Sequence[Reading]) -> float | None:
    """Median slope of the MAP in mmHg per minute over the 10 minutes before the newest reading that holds a MAP.

    ``readings`` oldest first. None with fewer than three such readings.
    """
    points = points_before_newest(readings, _RULE["window_min"])
    return _slope(points)


def crossing_at(readings: Sequence[Reading], goal_floor: float, falls: float | None) -> datetime | None:
    """When a falling MAP will pass ``goal_floor`` mmHg, if it goes on falling as it does: by ``falls``, its slope.

    None where it does not fall, is under the goal already, or would take more than an hour.
    """
    if falls is None or falls >= 0:
        return None
    minutes = minutes_to(points_before_newest(readings, _RULE["window_min"]), falls, goal_floor)
    if minutes is None or not 0 <= minutes <= _RULE["horizon_min"]:
        return None
    return newest_mean_at(readings) + timedelta(minutes=minutes)


def points_before_newest(readings: Sequence[Reading], window_min: float) -> Points:
    """Minutes (zero at the newest, negative before) and MAP of the readings in the window before the newest."""
    points: Points = []
    newest: datetime | None = None
    for reading, mean in zip(reversed(readings), reversed(means_mmhg(readings)), strict=True):
        if mean is None:
            continue
        newest = newest or reading.taken_at
        minutes = (reading.taken_at - newest).total_seconds() / _MINUTE
        if minutes < -window_min:
            break
        points.append((minutes, mean))
    points.reverse()
    return points


def newest_mean_at(readings: Sequence[Reading]) -> datetime:
    """When the newest reading that holds a MAP was taken; StopIteration without one."""
    return next(reading.taken_at for reading in reversed(readings) if mean_mmhg(reading) is not None)


def pair_slopes(points: Points) -> list[float]:
    """The slope between every two points, oldest first, that were not taken at the same moment, mmHg per minute."""
    return [
        (later_mean - mean) / (later - minute)
        for (minute, mean), (later, later_mean) in combinations(points, 2)
        if later != minute
    ]


def minutes_to(points: Points, falls: float | None, floor: float) -> float | None:
    """Minutes from the newest point until the fitted line passes the floor, negative if it has; None if it rises."""
    if falls is None or falls >= 0:
        return None
    level_now = median(mean - falls * minutes for minutes, mean in points)
    return (floor - level_now) / falls


def _slope(points: Points) -> float | None:
    if len(points) < _RULE["least_readings"]:
        return None
    slopes = pair_slopes(points)
    return median(slopes) if slopes else None
