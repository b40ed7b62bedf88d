"""The trend on a card: the last 40 minutes of pressure, roomy or small."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from consult import zone
from consult.chart import svg
from consult.chart.course import WINDOW, Course, course
from consult.chart.pressure import Frame, axis, pins, pressures, spans
from consult.chart.summary import in_words
from consult.chart.svg import Times


def trend(card: Mapping[str, Any]) -> str:
    """The roomy trend of a card: pressures with goal, marks of what was given, clock times."""
    shown = course(card)
    times = Times(shown.end - WINDOW, shown.end, 4, 211)
    frame = Frame(times, axis(shown, times, 17, 52), f"t{card['case'][:8]}", 4)
    return svg.drawing("trend", 238, 84, in_words(card), _roomy(shown, frame))


def small_trend(card: Mapping[str, Any]) -> str:
    """The trend of a dense card: pressures and goal alone."""
    shown = course(card)
    times = Times(shown.end - WINDOW, shown.end, 2, 108)
    frame = Frame(times, axis(shown, times, 4, 42), f"m{card['case'][:8]}", 2.5)
    return svg.drawing("trend trend-small", 112, 46, in_words(card), pressures(shown, frame))


def _roomy(shown: Course, frame: Frame) -> Iterator[str]:
    for tick in frame.times.ticks(10):
        x = frame.times.x(tick)
        yield svg.path("tr-grid", f"M{svg.number(x)} 16V54")
        yield svg.text("tr-clock", min(max(x, 19), 206), 83, zone.clock(tick), "middle")
    yield from pressures(shown, frame)
    if shown.goal is not None:
        yield svg.text("tr-goal-label", 218, frame.values.y(shown.goal) + 4, f"{shown.goal:g}")
    yield from spans(shown, frame.times, 54, 12)
    yield from pins(shown, frame.times, 8, 54, 6.5)
