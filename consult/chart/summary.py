"""The drawings in words and as a table, for those who do not see them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from consult import zone
from consult.chart.course import course, moment
from dosing.ground.language import gettext as _
from dosing.ground.measurements import LANED

MEASURES = {"map": "MAP", "sbp": _("Systolic")}


def in_words(card: Mapping[str, Any]) -> str:
    """One sentence: which pressure, from when to when, first and last value in mmHg, the lowest, and the goal."""
    shown = course(card)
    known = [point for point in shown.points if point.judged is not None]
    name = MEASURES[shown.measure]
    goal = _(", goal {goal:g} mmHg", goal=shown.goal) if shown.goal is not None else ""
    if not known:
        return _("{name}: no reading that can be drawn{goal}", name=name, goal=goal)
    first, last, lowest = known[0], known[-1], min(known, key=lambda point: point.judged or 0)
    named = [shown_map(point.judged, shown.goal) for point in (first, last, lowest)]
    return _(
        "{name} from {named} at {at} to {named2} mmHg at {at2}, lowest {named3} at {at3}{goal}",
        name=name,
        named=named[0],
        at=zone.clock(first.at),
        named2=named[1],
        at2=zone.clock(last.at),
        named3=named[2],
        at3=zone.clock(lowest.at),
        goal=goal,
    )


def rows(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The trend as rows of texts, newest first; an empty text where a value was not taken."""
    goal = course(card).goal
    return [
        {
            "at": zone.clock_seconds(moment(entry["t"])),
            "pressure": pressure_text(entry["sbp"], entry["dbp"]),
            "map": shown_map(entry["map"], goal),
            "others": [_value(entry.get(each.name)) for each in LANED],
        }
        for entry in reversed(card.get("trend") or [])
    ]


def pressure_text(sbp: float | None, dbp: float | None) -> str:
    """Systolic over diastolic, `P` where it was palpated, an empty text without a systolic."""
    if sbp is None:
        return ""
    return f"{sbp:g}/{dbp:g}" if dbp is not None else f"{sbp:g}/P"


def shown_map(value: float | None, goal: float | None) -> str:
    """A pressure as a whole number; with one decimal where the whole number would be on the other side of the goal."""
    if value is None:
        return ""
    crosses = goal is not None and (round(value) >= goal) != (value >= goal)
    return f"{value:.1f}" if crosses else f"{value:.0f}"


def _value(value: float | None) -> str:
    return "" if value is None else f"{value:.0f}"
