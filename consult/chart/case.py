"""The chart of a whole case: doses, pressures and the other measurements as lanes on one time axis, with a cursor."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from typing import Any

from django.utils.html import escape

from consult import zone
from consult.chart import svg
from consult.chart.course import Course, Point, course
from consult.chart.pressure import Frame, axis, pins, pressures, spans
from consult.chart.summary import in_words, pressure_text, shown_map
from consult.chart.svg import DAY, Times
from dosing.ground.language import gettext as _
from dosing.ground.measurements import LANED, Measurement

LEAST_MINUTES = 10
YEAR = 365 * DAY  # minutes
STEPS = (1, 2, 5, 10, 15, 30, 60, 120, 240, 480)  # minutes from one clock time to the next; then whole days
GIVEN = 52  # height of the marks above the pressures


@dataclass(frozen=True, slots=True)
class Sheet:
    """The measures of a drawing: its width, where the time axis starts and ends, heights of the lanes."""

    name: str
    width: float
    left: float
    right: float
    pressure: float
    lane: float


WIDE = Sheet("wide", 976, 132, 856, 196, 52)
NARROW = Sheet("narrow", 358, 34, 292, 160, 60)


def case_chart(card: Mapping[str, Any], minutes: float | None, sheet: Sheet = WIDE) -> str:
    """The chart of the last so many minutes before the newest entry (None: the whole case)."""
    shown = course(card)
    times = _times(shown, minutes, sheet)
    lanes = [
        lane
        for lane in LANED
        if any(point.other[lane.name] is not None for point in shown.points if times.holds(point.at))
    ]
    height = GIVEN + sheet.pressure + len(lanes) * (sheet.lane + 8) + 20
    parts = [*_clock(times, height), *_pressure(shown, times, sheet, card), *_lanes(shown, times, sheet, lanes)]
    parts += [*spans(shown, times, 4, 16), *pins(shown, times, 33, height - 20, 8), _cursor(height)]
    label = _("{in_words}. Arrow keys move the cursor; the table below holds all values.", in_words=in_words(card))
    return svg.drawing(f"chart chart-{sheet.name}", sheet.width, height, label, parts, _stops(shown, times))


def _times(shown: Course, minutes: float | None, sheet: Sheet) -> Times:
    start = shown.start if minutes is None else shown.end - timedelta(minutes=minutes)
    start = min(start, shown.end - timedelta(minutes=LEAST_MINUTES))
    return Times(start, shown.end, sheet.left, sheet.right)


def _clock(times: Times, height: float) -> Iterator[str]:
    span = (times.end - times.start) / timedelta(minutes=1)
    most = (times.right - times.left) / 62
    step = next((step for step in STEPS if span / step <= most), ceil(span / most / DAY) * DAY)
    shown = zone.clock if step < DAY else zone.day if step < YEAR else zone.year
    for tick in times.ticks(step):
        x = times.x(tick)
        yield svg.path("tr-grid", f"M{svg.number(x)} {GIVEN - 8}V{svg.number(height - 18)}")
        yield svg.text("tr-clock", x, height - 4, shown(tick), "middle")


def _pressure(shown: Course, times: Times, sheet: Sheet, card: Mapping[str, Any]) -> Iterator[str]:
    top, bottom = GIVEN + (4.0 if sheet is WIDE else 18.0), GIVEN - 4 + sheet.pressure
    frame = Frame(times, axis(shown, times, top, bottom), f"c{card['case'][:8]}{sheet.name[0]}", 6)
    yield from _names(_("Pressure"), "mmHg", top + (10 if sheet is WIDE else 4), sheet)
    for value in range(int(-(-frame.values.low // 20) * 20), int(frame.values.high) + 1, 20):
        yield from _rule(value, frame.values.y(value), sheet)
    yield from pressures(shown, frame)
    if shown.goal is not None:
        yield svg.text(
            "tr-goal-label", sheet.right + 6, frame.values.y(shown.goal) + 4, _("goal {goal:g}", goal=shown.goal)
        )


def _names(name: str, unit: str, y: float, sheet: Sheet) -> Iterator[str]:
    if sheet is WIDE:
        yield svg.text("lane-name", 0, y, name)
        yield svg.text("lane-unit", 0, y + 13, unit)
    else:
        yield svg.text("lane-name", 0, y - 14, f"{name}, {unit}")


def _rule(value: float, y: float, sheet: Sheet) -> Iterator[str]:
    yield svg.path("tr-grid", f"M{svg.number(sheet.left)} {svg.number(y)}H{svg.number(sheet.right)}")
    yield svg.text("tr-axis", sheet.left - 6, y + 4, f"{value:g}", "end")


def _lanes(shown: Course, times: Times, sheet: Sheet, lanes: list[Measurement]) -> Iterator[str]:
    top = GIVEN + sheet.pressure + 8
    for lane in lanes:
        taken = [
            (point.at, value)
            for point in shown.points
            if (value := point.other[lane.name]) is not None and times.holds(point.at)
        ]
        room = top + (4 if sheet is WIDE else 18), top + sheet.lane - 8
        values = svg.spread([value for _, value in taken], *lane.lane, *room, lane.range or svg.ANY)
        yield from _names(lane.title, lane.unit, top + (12 if sheet is WIDE else 20), sheet)
        for value in (values.low, values.high):
            yield from _rule(value, values.y(value), sheet)
        places = [(times.x(at), values.y(value)) for at, value in taken]
        yield svg.path("lane", svg.line_through(places))
        yield from (svg.circle("lane-dot", x, y, 2.5) for x, y in places)
        yield from _latest(taken[-1], lane.unit, values.y(taken[-1][1]), sheet)
        top += sheet.lane + 8


def _latest(taken: tuple[datetime, float], unit: str, y: float, sheet: Sheet) -> Iterator[str]:
    at, value = taken
    shown = f"{value:g}"
    x = sheet.right + 6
    yield svg.text("lane-now", x, y + 6, shown)
    if sheet is WIDE:
        x += 13 * len(shown) + 4
        yield svg.text("lane-unit", x, y - 3, unit)
        yield svg.text("lane-age", x, y + 10, zone.clock(at), more=f' data-age="{at.isoformat()}"')


def _cursor(height: float) -> str:
    top = GIVEN - 8
    line = svg.path("cursor", f"M0 {top}V{svg.number(height - 18)}")
    head = svg.path("cursor-head", f"M-5 {top - 4}h10l-5 7z")
    return f'<g class="cursor-group" visibility="hidden">{line}{head}</g>'


def _stops(shown: Course, times: Times) -> str:
    """Where the cursor stops, as an attribute: the x position of each set, its time, and its values as one text."""
    stops = [
        {
            "t": point.at.isoformat(),
            "x": round(times.x(point.at), 1),
            "at": zone.clock_seconds(point.at),
            "text": set_text(point, shown.goal),
        }
        for point in shown.points
        if times.holds(point.at)
    ]
    return f' tabindex="0" data-stops="{escape(json.dumps(stops))}"' if stops else ""


def set_text(point: Point, goal: float | None) -> str:
    """One set of readings as a text, each value with its unit."""
    named = {
        "MAP": (shown_map(point.map, goal), "mmHg"),
        "": ("unobtainable" if point.unobtainable else pressure_text(point.sbp, point.dbp), "mmHg"),
        **{each.short: (_whole(point.other[each.name]), each.unit) for each in LANED},
    }
    return " · ".join(f"{name} {value} {unit}".strip() for name, (value, unit) in named.items() if value)


def _whole(value: float | None) -> str:
    return "" if value is None else f"{value:g}"
