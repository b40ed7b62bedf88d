"""How deep and how long the pressure was below its goal: a measure of what was, not a prognosis.

Straight lines between readings, and the area between line and goal, from the first reading to the last (trapezoids,
cut where the line crosses the goal). Each part of a line is held against the goal that was in force then. Readings
further apart than a gap are not joined: nothing is known of the time between, so it counts neither as low nor as fine.
Nor are those joined between which no pressure could be obtained: that is worse than any number, and no number is made
up for it; nor those in an arrest or on both sides of it. The numbers and their sources stand in ``below_goal.toml``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from msgspec import Struct

from dosing.ground.facts import Number, Reading
from dosing.ground.tables import load
from dosing.patient.goals import InForce
from dosing.patient.pressure import means_mmhg

_LONGEST = timedelta(minutes=load("patient/below_goal")["gap"]["longest_min"])
_MINUTE = 60.0
_EVER = datetime.max.replace(tzinfo=UTC)
Point = tuple[datetime, float | None]
Stretch = tuple[datetime | None, datetime, InForce]


@dataclass(frozen=True, slots=True)
class BelowGoal:
    """``mmhg_min`` is depth times minutes below the goal then in force, ``minutes`` the time below it.

    ``measured_min`` is the time between readings that could be joined, ``gap_min`` that between those that could not,
    both from ``since`` on, the first reading. Nothing after ``until`` counts, the last reading that was joined to one
    before it; None where none was. ``floors`` are the goals that it was held against, oldest first.
    """

    mmhg_min: float
    minutes: float
    measured_min: float
    gap_min: float
    since: datetime
    until: datetime | None
    floors: tuple[Number, ...]

    def as_dict(self) -> dict[str, object]:
        """As the card shows it, to two decimals."""
        names = ("mmhg_min", "minutes", "measured_min", "gap_min")
        return {
            **{name: round(getattr(self, name), 2) for name in names},
            "since": self.since,
            "until": self.until,
            "floors": self.floors,
        }


class _Piece(Struct, frozen=True):
    """A part of a line between two readings, how far its ends are below the goal; None: not joined."""

    end: datetime
    minutes: float
    depths: tuple[float, float] | None
    floor: Number


def below_goal(readings: Iterable[Reading], goals: Sequence[InForce]) -> BelowGoal | None:
    """What the readings, oldest first, say against the goals that were in force, oldest first.

    None before two held the measure of one. Each goal decides by its own measure, systolic or MAP. The readings are
    those that are at hand, so that the measure begins with the first of them.
    """
    known = tuple(readings)
    points = {measure: _points(known, measure) for measure in dict.fromkeys(each.goal.measure for each in goals)}
    held = [each for each in points.values() if sum(value is not None for _, value in each) >= 2]
    if not held:
        return None
    pieces = [*_pieces(points, _stretches(goals))]
    joined = [piece for piece in pieces if piece.depths]
    area = low = 0.0
    for piece in joined:
        if piece.depths and max(piece.depths) > 0:
            part, depth = _below(*piece.depths)
            low += part * piece.minutes
            area += part * piece.minutes * depth
    return BelowGoal(
        mmhg_min=area,
        minutes=low,
        measured_min=sum([piece.minutes for piece in joined]),
        gap_min=sum([piece.minutes for piece in pieces if not piece.depths]),
        since=min(each[0][0] for each in held),
        until=max([piece.end for piece in joined], default=None),
        floors=tuple(dict.fromkeys([piece.floor for piece in joined])),
    )


def _stretches(goals: Sequence[InForce]) -> list[Stretch]:
    ends = [*(each.since or _EVER for each in goals[1:]), _EVER]
    return [(each.since, end, each) for each, end in zip(goals, ends, strict=True)]


def _pieces(points: dict[str, Sequence[Point]], stretches: list[Stretch]) -> Iterator[_Piece]:
    pulseless = [(since, end) for since, end, each in stretches if not each.pulse]
    for begins, ends, force in stretches:
        floor = force.goal.floor
        for one, other in pairwise(points[force.goal.measure]):
            start = one[0] if begins is None or begins <= one[0] else begins
            end = other[0] if other[0] <= ends else ends
            if end > start:
                first = one[1] if start is one[0] else _between(start, one, other)
                second = other[1] if end is other[0] else _between(end, one, other)
                joined = _joined(one, other, pulseless)
                depths = (floor - (first or 0), floor - (second or 0)) if joined else None
                yield _Piece(end, (end - start).total_seconds() / _MINUTE, depths, floor)


def _joined(one: Point, other: Point, pulseless: list[tuple[datetime | None, datetime]]) -> bool:
    """Whether a line joins two readings: both hold a pressure, no more than a gap apart, with a pulse all the while."""
    if one[1] is None or other[1] is None or other[0] - one[0] > _LONGEST:
        return False
    return not pulseless or all(end <= one[0] or (since or one[0]) >= other[0] for since, end in pulseless)


def _between(at: datetime, one: Point, other: Point) -> float:
    """The pressure on the line between two readings."""
    (start, first), (end, second) = one, other
    return (first or 0) + ((second or 0) - (first or 0)) * ((at - start) / (end - start))


def _points(readings: Sequence[Reading], measure: str) -> Sequence[Point]:
    """When the measure was taken, and its value; None where no pressure could be obtained."""
    values = means_mmhg(readings) if measure == "map" else [each.sbp for each in readings]
    return [
        (each.taken_at, value)
        for each, value in zip(readings, values, strict=True)
        if value is not None or each.bp_method == "unobtainable"
    ]


def _below(first: float, second: float) -> tuple[float, float]:
    """Which part of the line lies below the goal, and its mean depth: a trapezoid's, or a triangle's where it crosses.

    ``first`` and ``second`` are how far its ends are below the goal, negative above it; one of them is below.
    """
    deepest, shallowest = max(first, second), min(first, second)
    if shallowest >= 0:
        return 1.0, (first + second) / 2
    return deepest / (deepest - shallowest), deepest / 2
