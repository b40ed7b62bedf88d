"""What trend and case chart share: pressure bars, line, goal, shortfall, silences, arrests, marks of what was given."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from consult.chart import svg
from consult.chart.course import Course, Given, Point, silences, stretches
from consult.chart.svg import Times, Values
from dosing.ground.language import gettext as _

CROWDED = 8.0  # px between the middles of two bars
DIGIT = 6.5  # px, the width of a digit of a mark in a wide font


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the pressures are drawn; `name` makes pattern ids unique on a page, `tick` is half the MAP tick's width."""

    times: Times
    values: Values
    name: str
    tick: float


def axis(course: Course, times: Times, top: float, bottom: float) -> Values:
    """The value axis of the pressures on the time axis: from the data, with the goal, at least 60 mmHg high."""
    shown = [point for point in course.points if times.holds(point.at)]
    found = [value for point in shown for value in (point.sbp, point.dbp, point.map) if value is not None]
    return svg.spread([*found, *(goal for _, _, goal in _held(course, times))], 60, 5, top, bottom)


def pressures(course: Course, frame: Frame) -> Iterator[str]:
    """Everything drawn for the pressures, back to front."""
    shown = tuple(point for point in course.points if frame.times.holds(point.at))
    short, silent = (
        svg.hatch(f"{frame.name}-s", "tr-hatch", 3.5, 45),
        svg.hatch(f"{frame.name}-g", "tr-gap-hatch", 6, -45),
    )
    yield f"<defs>{short}{silent}</defs>"
    yield from _arrests(course, frame)
    yield from _silences(shown, frame)
    for begins, ends, goal in _held(course, frame.times):
        yield from _shortfall(stretches(shown, course.breaks), goal, (begins, ends), frame)
        y = svg.number(frame.values.y(goal))
        yield svg.path("tr-goal", f"M{svg.number(begins)} {y}H{svg.number(ends)}")
    bar = "tr-bar tr-thin" if _crowded(shown, frame) else "tr-bar"
    for point in shown:
        yield from _reading(point, frame, bar)
    for run in stretches(shown, course.breaks):
        yield svg.path("tr-line", svg.line_through(_places(run, frame)))


def _arrests(course: Course, frame: Frame) -> Iterator[str]:
    """Each arrest as a band from its start to the return of pulse, each shock as a bolt at its foot."""
    top, bottom, times = frame.values.top, frame.values.bottom, frame.times
    for since, until in course.arrests:
        if until >= times.start:
            left, right = times.x(since), times.x(until)
            yield svg.box("tr-arrest", left, top, max(right - left, 1.5), bottom - top)
    for at in filter(times.holds, course.shocks):
        yield svg.path("tr-shock", svg.bolt(times.x(at), bottom - frame.tick - 1, frame.tick))


def _places(run: Sequence[Point], frame: Frame) -> list[tuple[float, float]]:
    return [(frame.times.x(point.at), frame.values.y(point.judged)) for point in run if point.judged is not None]


def _crowded(shown: tuple[Point, ...], frame: Frame) -> bool:
    """Whether two readings stand so close that full bars would run together: then all bars of the drawing are thin."""
    places = [frame.times.x(point.at) for point in shown]
    return any(later - earlier < CROWDED for earlier, later in pairwise(places))


def _reading(point: Point, frame: Frame, bar: str) -> Iterator[str]:
    x = frame.times.x(point.at)
    if point.sbp is not None and point.dbp is not None:
        yield svg.path(
            bar,
            f"M{svg.number(x)} {svg.number(frame.values.y(point.sbp))}V{svg.number(frame.values.y(point.dbp))}",
        )
    elif point.sbp is not None:
        yield svg.circle("tr-palp", x, frame.values.y(point.sbp), frame.tick * 0.9)
    elif point.unobtainable:
        y = frame.values.bottom - frame.tick
        yield svg.path("tr-none", svg.cross(x, y, frame.tick))
    if point.map is not None:
        yield svg.path(
            "tr-tick",
            f"M{svg.number(x - frame.tick)} {svg.number(frame.values.y(point.map))}h{svg.number(2 * frame.tick)}",
        )


def _silences(shown: tuple[Point, ...], frame: Frame) -> Iterator[str]:
    top, height = frame.values.top, frame.values.bottom - frame.values.top
    for earlier, later in silences(shown):
        left, right = frame.times.x(earlier) + 4, frame.times.x(later) - 4
        yield svg.box("tr-gap", left, top, right - left, height, f"{frame.name}-g")
        if right - left > 62:
            yield svg.text("tr-gap-label", (left + right) / 2, top + height / 2, _("no reading"), "middle")


def _held(course: Course, times: Times) -> Iterator[tuple[float, float, float]]:
    """From where to where on the axis which goal held; one that ended before the axis begins is left out."""
    begins = [times.x(since) if since else times.left for since, _ in course.goals]
    for place, (_since, goal) in enumerate(course.goals):
        ends = begins[place + 1] if place + 1 < len(begins) else times.right
        if ends > times.left:
            yield max(begins[place], times.left), ends, goal


def _shortfall(runs: Iterator[list[Point]], goal: float, span: tuple[float, float], frame: Frame) -> Iterator[str]:
    """The area between pressure and goal, from where to where the goal holds."""
    level, (begins, ends) = frame.values.y(goal), span
    for run in runs:
        places = _places(run, frame)
        for left, right in pairwise(places):
            holds = right[0] > begins and left[0] < ends
            corners = below(_cut(left, right, begins), _cut_end(left, right, ends), level) if holds else []
            if corners:
                yield f'<path class="tr-short" fill="url(#{frame.name}-s)" d="{svg.line_through(corners)}z"/>'


def _cut(left: tuple[float, float], right: tuple[float, float], x: float) -> tuple[float, float]:
    """The left end of a line piece, moved along it to `x` where it begins before."""
    if left[0] >= x:
        return left
    return x, left[1] + (x - left[0]) / (right[0] - left[0]) * (right[1] - left[1])


def _cut_end(left: tuple[float, float], right: tuple[float, float], x: float) -> tuple[float, float]:
    """The right end of a line piece, moved back along it to `x` where it ends after."""
    return right if right[0] <= x else (x, _cut(left, right, x)[1])


def below(left: tuple[float, float], right: tuple[float, float], level: float) -> list[tuple[float, float]]:
    """The corners of the area between a line piece and the level above it; y grows downwards; empty if never below."""
    (x1, y1), (x2, y2) = left, right
    if y1 <= level and y2 <= level:
        return []
    crossing = x1 + (level - y1) / (y2 - y1) * (x2 - x1) if (y1 - level) * (y2 - level) < 0 else None
    start, end = (crossing, x2) if y1 < level else (x1, crossing)
    first, last = start if start is not None else x1, end if end is not None else x2
    return [
        (first, level),
        (x1, y1) if y1 >= level else (first, level),
        (x2, y2) if y2 >= level else (last, level),
        (last, level),
    ]


def spans(course: Course, times: Times, top: float, height: float) -> Iterator[str]:
    """Fluids and infusions as numbered boxes as long as they ran; where some overlap, in two rows that touch."""
    shown = [given for given in course.given if given.until is not None and given.until >= times.start]
    crowded = any(_overlap(a, b) for a, b in pairwise(shown))
    deep = height - 2.5 if crowded else height
    rows: list[list[tuple[int, float]]] = [[], []]
    for place, given in enumerate(shown):
        row = place % 2 if crowded else 0
        width = max(times.x(given.until or times.end) - times.x(given.at), deep)
        left = min(times.x(given.at), times.right - width)
        style = "rx-span rx-running" if given.running else "rx-span"
        yield svg.box(style, left, top + (deep + 1) * row, width, deep)
        rows[row].append((given.mark, left + width / 2))
    for row, marks in enumerate(rows):
        for pin in _joined(sorted(marks, key=lambda mark: mark[1]), 0):
            yield svg.text("rx-no", pin.middle, top + (deep + 1) * row + deep / 2 + 3.5, pin.text, "middle")


def _overlap(first: Given, second: Given) -> bool:
    return first.until is not None and second.at < first.until


@dataclass(frozen=True, slots=True)
class _Pin:
    """Doses whose marks would lie over each other, as one: their numbers in the list, and the place of each."""

    marks: tuple[int, ...]
    places: tuple[float, ...]
    radius: float

    @property
    def text(self) -> str:
        """The numbers: ``3``, ``3, 5``; from three that follow each other on only the first and the last, ``3–5``."""
        first, last = self.marks[0], self.marks[-1]
        if len(self.marks) > 2 and last - first == len(self.marks) - 1:
            return f"{first}–{last}"
        return ", ".join(map(str, self.marks))

    @property
    def middle(self) -> float:
        return (self.places[0] + self.places[-1]) / 2

    @property
    def half(self) -> float:
        """Half its width: a disc, wider where its text is; without a radius the text alone."""
        return max(self.radius, len(self.text) * DIGIT / 2 + (3 if self.radius else 0))

    def covers(self, other: _Pin) -> bool:
        """Whether the two would lie over each other."""
        return abs(self.middle - other.middle) < self.half + other.half

    def joined(self, other: _Pin) -> _Pin:
        return _Pin(tuple(sorted((*self.marks, *other.marks))), (*self.places, *other.places), self.radius)


def _joined(marks: Iterable[tuple[int, float]], radius: float) -> list[_Pin]:
    """Marks from left to right, each with its place, joined as long as some would lie over each other."""
    found: list[_Pin] = []
    for mark, x in marks:
        pin = _Pin((mark,), (x,), radius)
        while found and found[-1].covers(pin):
            pin = found.pop().joined(pin)
        found.append(pin)
    return found


def pins(course: Course, times: Times, y: float, bottom: float, radius: float) -> Iterator[str]:
    """Single doses as numbered discs with a drop line to `bottom`, those at one time as one; requests as diamonds."""
    single = [each for each in course.given if each.until is None and times.holds(each.at)]
    for pin in _joined([(each.mark, times.x(each.at)) for each in single], radius):
        for x in pin.places:
            yield svg.path("rx-drop", f"M{svg.number(x)} {svg.number(y + radius)}V{svg.number(bottom)}")
        x = min(max(pin.middle, times.left + pin.half - radius), times.right - pin.half + radius)
        yield svg.pill("rx-pin", x, y, pin.half, radius)
        yield svg.text("rx-no rx-no-on", x, y + 3.6, pin.text, "middle")
    for at in course.requested:
        x, r = times.x(at), radius * 0.95
        yield svg.path("rx-ask", svg.line_through([(x, y - r), (x + r, y), (x, y + r), (x - r, y)]) + "z")
