"""Where the MAP is heading, in words that agree with the readings that one sees beside them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from consult.render.arrest import apart, in_arrest
from dosing.ground.language import gettext as _
from dosing.ground.text import minutes_text
from dosing.patient.trend import WINDOW

JUMP = 5  # mmHg of one reading beside a steady course that are worth a word: our choice
WAYS = {-1: ("−", _("falling")), 0: ("", _("steady")), 1: ("+", _("rising"))}

Card = Mapping[str, Any]


def slope(card: Card) -> dict[str, str] | None:
    """The card's slope of the MAP: ``shown`` signed per minute, ``last`` the newest step where it goes another way, and
    all of it in ``words``. None without one, in cardiac arrest, and where the newest pressure has no MAP.
    """
    per_minute, points = card.get("map_slope"), _points(card)
    if per_minute is None or in_arrest(card) or not points or points[-1]["map"] is None:
        return None
    shown = f"{abs(per_minute):.1f}".removesuffix(".0")
    way = 0 if shown == "0" else -1 if per_minute < 0 else 1
    sign, word = WAYS[way]
    rate = "" if way == 0 else _(" {shown} mmHg per min", shown=shown)
    last = _against(way, points)
    told = _(", last reading {way} {mmhg}", way=_("up") if last > 0 else _("down"), mmhg=abs(last)) if last else ""
    return {
        "shown": f"{sign}{shown}/min",
        "last": _("last {sign}{mmhg}", sign="+" if last > 0 else "−", mmhg=abs(last)) if last else "",
        "words": f"MAP {word}{rate}{_span(points)}{told}",
    }


def _points(card: Card) -> list[Card]:
    """The points of the trend that tell of a pressure of now, also one that has no MAP; oldest first."""
    told = [each for each in card.get("trend") or () if not apart(card, each["t"])]
    return [each for each in told if each["map"] is not None or each["sbp"] is not None or each.get("bp_method")]


def _against(way: int, points: list[Card]) -> int:
    """By how many whole mmHg the newest MAP goes another way than the course does; 0 where it does not."""
    before, newest = [each["map"] for each in points if each["map"] is not None][-2:]
    step = round(newest - before)
    against = step * way < 0 or (way == 0 and abs(step) >= JUMP)
    return step if against else 0


def _span(points: list[Card]) -> str:
    """How long the readings lie apart that the slope is of."""
    times = [datetime.fromisoformat(each["t"]) for each in points if each["map"] is not None]
    minutes = (times[-1] - min(at for at in times if times[-1] - at <= WINDOW)).total_seconds() / 60
    return _(" over {minutes}", minutes=minutes_text(round(minutes) or minutes))
