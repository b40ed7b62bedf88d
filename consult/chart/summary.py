"""The drawings in words and as a table, for those who do not see them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from consult import zone
from consult.chart.course import Course, course, moment
from dosing.ground.language import gettext as _
from dosing.ground.measurements import LANED

MEASURES = {"map": "MAP", "sbp": _("Systolic")}


def in_words(card: Mapping[str, Any]) -> str:
    """One sentence: which pressure, from when to when, first and last value in mmHg, the lowest, and the goal."""
    shown = course(card)
    known = [point for point in shown.points if point.judged is not None]
    name = MEASURES[shown.measure]
    told_of_arrest = [each["words"] for each in marks(shown)]
    goal = "" if shown.goal is None else _("goal {goal:g} mmHg", goal=shown.goal)
    if not known:
        return ", ".join(filter(None, [_("{measure}: no reading to draw", measure=name), goal, *told_of_arrest]))
    first, last, lowest = known[0], known[-1], min(known, key=lambda point: point.judged or 0)
    told = _(
        "{measure} from {first} at {first_time} to {last} mmHg at {last_time}, lowest {lowest} at {lowest_time}",
        measure=name,
        first=shown_map(first.judged, shown.goal),
        first_time=zone.clock(first.at),
        last=shown_map(last.judged, shown.goal),
        last_time=zone.clock(last.at),
        lowest=shown_map(lowest.judged, shown.goal),
        lowest_time=zone.clock(lowest.at),
    )
    return ", ".join(filter(None, [told, goal, *told_of_arrest]))


def marks(shown: Course) -> list[dict[str, str]]:
    """What stands in the drawings for arrests and shocks, `mark` each, in words with their times."""
    spans = ", ".join(
        zone.clock(since) + (f"–{zone.clock(until)}" if until > since else "") for since, until in shown.arrests
    )
    shocks = ", ".join(map(zone.clock, shown.shocks))
    return [
        *([{"mark": "arrest", "words": _("cardiac arrest {times}", times=spans)}] if spans else []),
        *([{"mark": "shock", "words": _("shock {times}", times=shocks)}] if shocks else []),
    ]


def legend(card: Mapping[str, Any]) -> list[dict[str, str]]:
    """The marks of a card's drawings that need a word; empty where there was neither arrest nor shock."""
    return marks(course(card))


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
