"""Alerts of a card as alarm lines: the worst and every raised HIGH are shown, the others stand behind them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

import msgspec

from consult import zone
from consult.case.escalation import escalates_at, next_step
from consult.chart.course import given_doses, moment
from consult.render import dose_course
from consult.render.lines import Line
from consult.render.words import plain
from consult.state.parts import Acknowledged
from dosing.ground.kinds import MEASURED
from dosing.ground.language import gettext as _

RANKS = {"high": 0, "medium": 1, "low": 2}
MOST_STOPPED = 2  # that a line names
MOST_ON_A_PHONE = 3  # so that the last pressure stays in sight below them: our choice
MARKS = {"high": (9.0, 15.8, 22.6), "medium": (12.4, 19.2), "low": (15.8,)}


def alarms(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The open alerts: raised before acknowledged, high before low, oldest first; `folded` are those behind the others.

    None of them is the first, none a HIGH that nobody has acknowledged.
    """
    known = [
        entry for entry in card.get("alerts") or () if not entry.get("cleared_at") and entry["kind"] != "clock_offset"
    ]
    known.sort(key=lambda entry: (entry.get("acknowledged") is not None, RANKS[entry["priority"]], entry["raised_at"]))
    given = given_doses(card)
    return [
        {**(told := _alarm(entry, card, given)), "folded": place > 0 and not _shown(told)}
        for place, entry in enumerate(known)
    ]


def _shown(alarm: Mapping[str, Any]) -> bool:
    return bool(alarm["priority"] == "high" and alarm["state"] == "raised")


def on_a_phone(known: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """The alerts with no more than a few before the others: the newest of them, for a crew has seen those before."""
    every = list(known)
    newest = sorted((each for each in every if not each["folded"]), key=lambda each: moment(each["raised_at"]))
    shown = [each["id"] for each in newest[-MOST_ON_A_PHONE:]]
    return [{**each, "folded": each["id"] not in shown} for each in every]


def behind(known: Iterable[Mapping[str, Any]]) -> str:
    """The alerts that are folded away, in a line: each with its priority and text."""
    return " · ".join(
        _("{word}: {text}, acknowledged", **each)
        if each["state"] == "acknowledged"
        else f"{each['word']}: {each['text']}"
        for each in known
        if each["folded"]
    )


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """What of an alert its line tells."""

    priority: str
    text: str
    raised_at: datetime
    acknowledged: Acknowledged | None = None
    escalated_at: datetime | None = None
    escalated_to: str | None = None


def _alarm(entry: Mapping[str, Any], card: Mapping[str, Any], given: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    alert = msgspec.convert(entry, Told)
    at = escalates_at(alert)
    return {
        **entry,
        "text": zone.here(alert.text, alert.raised_at),
        "word": plain(alert.priority).capitalize(),
        "state": "acknowledged" if alert.acknowledged else "raised",
        "marks": MARKS[alert.priority],
        "escalates_at": at and at.isoformat(),
        "escalates_to": plain(next_step(alert)) if alert.escalated_at else "",
        **(_treated(alert, card, given) if entry["kind"] in MEASURED else {}),
    }


def _treated(alert: Told, card: Mapping[str, Any], given: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """What was given last, or set anew, since the alert was raised and goes on or went in; and what has ended since.

    The first takes notice of the alert for nobody, and is left out once somebody has. The other is then told still: it
    may be what they counted on.
    """
    done, over, known = list[tuple[str, str]](), list[tuple[str, Line]](), alert.acknowledged
    for dose in given:
        end = dose_course.ended(card, dose)
        at = (end and dose.get("ended_at")) or dose.get("changed_at") or dose["given_at"]
        if moment(at) > (known.at if known and end else alert.raised_at):
            over += [(at, [f"{dose['title']} ", *end])] if end else []
            done += [] if end else [(at, dose["title"])]
    newest = max(done, default=None, key=_at)
    return {
        "treated": {"at": newest[0], "title": newest[1]} if newest and not known else None,
        "stopped": [line for _when, line in sorted(over, key=_at)[-MOST_STOPPED:]],
    }


def _at(told: tuple[str, Any]) -> datetime:
    return moment(told[0])


def raised(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The open alerts that nobody has acknowledged."""
    return [entry for entry in alarms(card) if entry["state"] == "raised"]
