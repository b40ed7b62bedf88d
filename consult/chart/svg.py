"""The few SVG elements that the drawings are made of, and the scales that place them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import inf

from django.utils import timezone
from django.utils.html import escape

Bounds = tuple[float, float]
ANY: Bounds = (-inf, inf)
HALF_HOUR, DAY = 30, 24 * 60  # minutes


def number(value: float) -> str:
    """A coordinate with at most one decimal."""
    return f"{value:.1f}".removesuffix(".0")


def path(style: str, drawn: str) -> str:
    """A path of the given class."""
    return f'<path class="{style}" d="{drawn}"/>'


def line_through(points: Iterable[tuple[float, float]]) -> str:
    """Path data of straight lines through the points."""
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)


def cross(x: float, y: float, arm: float) -> str:
    """Path data of a slanted cross around a point."""
    return line_through([(x - arm, y - arm), (x + arm, y + arm)]) + line_through(
        [(x - arm, y + arm), (x + arm, y - arm)]
    )


def bolt(x: float, y: float, arm: float) -> str:
    """Path data of a bolt around a point, twice the arm high."""
    shape = [(0.35, -1), (-0.75, 0.2), (-0.05, 0.2), (-0.35, 1), (0.75, -0.2), (0.05, -0.2)]
    return line_through((x + right * arm, y + down * arm) for right, down in shape) + "z"


def text(style: str, x: float, y: float, content: str, anchor: str = "start", more: str = "") -> str:
    """A text of the given class; the content is escaped, `more` are further attributes as they stand."""
    where = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return f'<text class="{style}" x="{number(x)}" y="{number(y)}"{where}{more}>{escape(content)}</text>'


def circle(style: str, x: float, y: float, radius: float) -> str:
    """A circle of the given class."""
    return f'<circle class="{style}" cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"/>'


def pill(style: str, x: float, y: float, half: float, radius: float) -> str:
    """A shape of the given class, round at both ends and `half` as wide to each side of its middle."""
    place = f'x="{number(x - half)}" y="{number(y - radius)}"'
    size = f'width="{number(2 * half)}" height="{number(2 * radius)}" rx="{number(radius)}"'
    return f'<rect class="{style}" {place} {size}/>'


def box(style: str, x: float, y: float, width: float, height: float, fill: str = "") -> str:
    """A rectangle of the given class, filled with a pattern if one is named."""
    filled = f' fill="url(#{fill})"' if fill else ' rx="2.5"'
    size = f'width="{number(max(width, 0))}" height="{number(height)}"'
    return f'<rect class="{style}" x="{number(x)}" y="{number(y)}" {size}{filled}/>'


def hatch(name: str, style: str, step: float, angle: int) -> str:
    """A pattern of slanted lines under an id."""
    return (
        f'<pattern id="{name}" width="{number(step)}" height="{number(step)}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate({angle})"><path class="{style}" d="M0 0V{number(step)}"/></pattern>'
    )


def drawing(style: str, width: float, height: float, label: str, parts: Iterable[str], more: str = "") -> str:
    """A whole drawing that a screen reader announces by its label; `more` are further attributes, already escaped."""
    view = f'viewBox="0 0 {number(width)} {number(height)}"'
    return f'<svg class="{style}" {view} role="img" aria-label="{escape(label)}"{more}>{"".join(parts)}</svg>'


@dataclass(frozen=True, slots=True)
class Times:
    """A time axis from `start` to `end` between the x positions `left` and `right`."""

    start: datetime
    end: datetime
    left: float
    right: float

    def x(self, at: datetime) -> float:
        """The x position of a time, held within the axis."""
        share = (at - self.start) / (self.end - self.start)
        return self.left + min(max(share, 0.0), 1.0) * (self.right - self.left)

    def holds(self, at: datetime) -> bool:
        """Whether the time is on the axis."""
        return self.start <= at <= self.end

    def ticks(self, minutes: int) -> list[datetime]:
        """The whole multiples of so many minutes by the clock here, oldest first; of whole days, the midnights."""
        start = timezone.localtime(self.start)
        midnight = start.replace(hour=0, minute=0, second=0, microsecond=0, fold=0)
        if minutes >= DAY:
            return [*self._each(midnight, timedelta(minutes=minutes))]
        # Hours as they pass: where the clock is put, some are missing by it and some come twice.
        pace = timedelta(minutes=min(minutes, HALF_HOUR))
        passed = start.replace(tzinfo=None) - midnight.replace(tzinfo=None)
        each = self._each((midnight + passed // pace * pace).astimezone(UTC), pace)
        return [at for at in each if _minute_of_day(at) % minutes == 0]

    def _each(self, at: datetime, step: timedelta) -> Iterator[datetime]:
        while at <= self.end:
            if at > self.start:
                yield at
            at += step


def _minute_of_day(at: datetime) -> int:
    local = timezone.localtime(at)
    return local.hour * 60 + local.minute


@dataclass(frozen=True, slots=True)
class Values:
    """A value axis from `low` at y `bottom` to `high` at y `top`."""

    low: float
    high: float
    top: float
    bottom: float

    def y(self, value: float) -> float:
        """The y position of a value."""
        return self.bottom - (value - self.low) / (self.high - self.low) * (self.bottom - self.top)


def spread(
    values: Iterable[float], least: float, step: float, top: float, bottom: float, bounds: Bounds = ANY
) -> Values:
    """An axis around the values, at least `least` high where `bounds` allow it, its ends on multiples of `step`.

    From 0 without values.
    """
    known = list(values) or [0.0]
    low, high = min(known), max(known)
    missing = max(least - (high - low), 0.0) / 2
    low, high = (low - missing) // step * step, -(-(high + missing) // step) * step
    low, high = max(low, bounds[0]), min(high, bounds[1])
    return Values(low, high if high > low else low + step, top, bottom)
