"""What a case's drawings show, read from its card: pressures, goal, what was given when, requests, arrests, shocks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from dosing.ground.measurements import LANED

GAP = timedelta(minutes=10)
WINDOW = timedelta(minutes=40)
SHOCK = "defibrillation"


@dataclass(frozen=True, slots=True)
class Point:
    """One set of the trend; `judged` is the pressure that decides (MAP or systolic), None where it is unknown."""

    at: datetime
    sbp: float | None
    dbp: float | None
    map: float | None
    judged: float | None
    other: Mapping[str, float | None]
    unobtainable: bool = False


@dataclass(frozen=True, slots=True)
class Given:
    """One thing given, under its number in the list; `until` is None for a single dose, the axis end while it runs."""

    mark: int
    at: datetime
    until: datetime | None
    running: bool


@dataclass(frozen=True, slots=True)
class Course:
    """All that the drawings of one case need; times aware, pressures in mmHg, `end` the newest of all times.

    `goal` holds from `since` on: None from the beginning; `goals` are all that held, each from its time on. An arrest
    that lasts goes on to `end`.
    """

    points: tuple[Point, ...]
    measure: str
    goal: float | None
    since: datetime | None
    goals: tuple[tuple[datetime | None, float], ...]
    given: tuple[Given, ...]
    requested: tuple[datetime, ...]
    arrests: tuple[tuple[datetime, datetime], ...]
    shocks: tuple[datetime, ...]
    start: datetime
    end: datetime

    @property
    def breaks(self) -> tuple[datetime, ...]:
        """When the pulse was lost or came back: no line joins what lies on both sides."""
        return tuple(at for span in self.arrests for at in span)


def moment(text: str) -> datetime:
    """An aware time from its ISO 8601 text."""
    return datetime.fromisoformat(text)


def course(card: Mapping[str, Any]) -> Course:
    """The course of a card; without any reading or dose it starts and ends when the case was opened."""
    measure = judging_measure(card)
    points = tuple(_point(entry, measure) for entry in card.get("trend") or ())
    requested = tuple(
        moment(order["requested_at"]) for order in card.get("orders") or () if order["state"] == "requested"
    )
    doses = given_doses(card)
    times = [point.at for point in points] + [moment(dose["given_at"]) for dose in doses] + list(requested)
    spans, shocks = (card.get("arrest") or {}).get("spans") or (), _shocks(card)
    times += [moment(at) for span in spans for at in (span["since"], span["until"]) if at] + list(shocks)
    opened = moment(card["opened_at"])
    end = max(times, default=opened)
    given = tuple(_given(mark, dose, end) for mark, dose in enumerate(doses, 1))
    goal, since = _goal(card, measure)
    arrests = tuple((moment(span["since"]), moment(span["until"]) if span["until"] else end) for span in spans)
    goals, start = _goals(card, measure, goal, since), min([opened, *times])
    return Course(points, measure, goal, since, goals, given, requested, arrests, shocks, start, end)


def given_doses(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The card's doses that stand (not entered in error), oldest first: their places give the mark numbers."""
    doses = [dose for dose in card.get("doses") or () if not dose.get("in_error")]
    return sorted(doses, key=lambda dose: moment(dose["given_at"]))


def judging_measure(card: Mapping[str, Any]) -> str:
    """`sbp` where the systolic decides for this patient, else `map`."""
    judged_by = ((card["vitals"].get("derived") or {}).get("pressure") or {}).get("judged_by")
    return "sbp" if judged_by == "sbp" or (not judged_by and _goal_measure(card) == "sbp") else "map"


def stretches(points: tuple[Point, ...], breaks: tuple[datetime, ...] = ()) -> Iterator[list[Point]]:
    """Runs of points with a known pressure, no long silence and no break in between, for the line through them."""
    run: list[Point] = []
    for point in points:
        if run and (point.judged is None or point.at - run[-1].at > GAP or _parted(run[-1].at, point.at, breaks)):
            yield run
            run = []
        if point.judged is not None:
            run.append(point)
    if run:
        yield run


def _parted(one: datetime, other: datetime, breaks: tuple[datetime, ...]) -> bool:
    return any(one < at <= other for at in breaks)


def _shocks(card: Mapping[str, Any]) -> tuple[datetime, ...]:
    """When a shock went off, of the procedures that the card holds."""
    told = (each for each in card.get("procedures") or () if each["procedure"] == SHOCK)
    return tuple(moment(each["at"]) for each in told if each["outcome"] in (None, "done"))


def silences(points: tuple[Point, ...]) -> Iterator[tuple[datetime, datetime]]:
    """The long times without any pressure, between readings that hold one."""
    read = [point.at for point in points if point.sbp is not None or point.map is not None or point.unobtainable]
    for earlier, later in pairwise(read):
        if later - earlier > GAP:
            yield earlier, later


def _goal_measure(card: Mapping[str, Any]) -> str:
    return str((card.get("goal") or {}).get("measure", "map"))


def _goal(card: Mapping[str, Any], measure: str) -> tuple[float | None, datetime | None]:
    """The floor of the measure that decides, and since when it holds: a goal of the other measure moves it not."""
    goal = card.get("goal") or {}
    if measure == _goal_measure(card):
        return goal.get("floor"), moment(goal["since"]) if goal.get("since") else None
    judged = ((card["vitals"].get("derived") or {}).get("pressure") or {}).get("goal")
    return (float(judged) if judged is not None else None), None


def _goals(
    card: Mapping[str, Any], measure: str, goal: float | None, since: datetime | None
) -> tuple[tuple[datetime | None, float], ...]:
    """Each floor that held with its time; of a card that does not tell them, that of now alone."""
    told = [(each["since"], each[f"{measure}_floor"]) for each in card.get("goals") or ()]
    held = [(at and moment(at), float(floor)) for at, floor in told if floor is not None]
    steps = [each for place, each in enumerate(held) if not place or each[1] != held[place - 1][1]]
    if steps and steps[-1][1] == goal:
        return tuple(steps)
    return () if goal is None else ((since, goal),)


def _point(entry: Mapping[str, Any], measure: str) -> Point:
    judged = entry["sbp"] if measure == "sbp" else entry["map"]
    other = {each.name: entry.get(each.name) for each in LANED}
    return Point(
        moment(entry["t"]),
        entry["sbp"],
        entry["dbp"],
        entry["map"],
        judged,
        other,
        entry.get("bp_method") == "unobtainable",
    )


def _given(mark: int, dose: Mapping[str, Any], end: datetime) -> Given:
    at, running = moment(dose["given_at"]), dose.get("status") in ("running", "held")
    until = moment(dose["ended_at"]) if dose.get("ended_at") else (max(end, at) if running else None)
    return Given(mark, at, until if (until and until > at) or running else None, running)
