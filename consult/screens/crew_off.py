"""What a crew does where an infusion lost its line or a pressor is held: run it again, ask for the antidote."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from consult.render.lines import clock, filled
from consult.render.lost_lines import ANTIDOTE, beside, off
from consult.screens.crew_running import AGAIN
from dosing.ground.language import gettext as _
from dosing.rules.rule_set import RuleSet

Card = Mapping[str, Any]


def rows(card: Card, rules: RuleSet, by_order: Callable[[Card], Card | None]) -> list[dict[str, Any]]:
    """What is off for want of a line, each with where it is started again, as it ran, and its antidote is asked for.

    And each other pressor that is held; `by_order` tells the order by which it is.
    """
    ask = f"{reverse('crew-request', args=[card['case']])}?{urlencode({'treatment': ANTIDOTE})}"
    lost = [
        {
            **each,
            "level": "needs_order",
            "new_line": True,
            "press": _press(each["dose"]),
            "again": _again(card, each["dose"]) if each["dose"]["treatment"] in rules.treatments else "",
            "ask": ask if each["antidote"] else "",
            "beside": beside(card, each["dose"]),
            "cautions": [caution.text for caution in rules.treatments[ANTIDOTE].cautions] if each["antidote"] else [],
        }
        for each in off(card, rules)
    ]
    besides = [dose for dose in card.get("running") or () if _is_held_pressor(dose, rules)]
    told = {each["dose"]["id"] for each in lost}
    return [*lost, *(_held(card, dose, by_order(dose)) for dose in besides if dose["id"] not in told)]


def _is_held_pressor(dose: Card, rules: RuleSet) -> bool:
    known = rules.treatments.get(dose["treatment"])
    return dose["status"] == "held" and bool(known and known.drug_class == "pressor")


def _held(card: Card, dose: Card, order: Card | None) -> dict[str, Any]:
    """What is held, with where it runs again; by order it is held until another one."""
    words = _("{title} HELD since {time}: not running")
    if order:
        words = _("{title} HELD since {time} by order of {who}")
    who = order["decided_by"] if order else ""
    return {
        "line": filled(words, title=dose["title"], time=clock(dose["changed_at"]), who=who),
        "level": "caution" if order else "needs_order",
        "again": "" if order else _again(card, dose),
        "press": _("Runs again: {title}", title=dose["title"]),
    }


def _press(dose: Card) -> str:
    words = _("Runs again there: {title}") if dose["status"] == "held" else _("Run it there: {title}")
    return words.format(title=dose["title"])


def _again(card: Card, dose: Card) -> str:
    """Where it is started anew; what is held runs again on its own page, where that is chosen already."""
    if dose["status"] == "held":
        return f"{reverse('crew-change', args=[card['case'], dose['id']])}?{urlencode({'rate': AGAIN})}"
    ran = [rate["amount"] for rate in dose["rates"] if rate["amount"]]
    told = {
        "amount": _plain(ran[-1]) if ran else "",
        "strength": _plain(dose["concentration"]) if dose["concentration"] else "",
        "for": dose["indication"] or "",
    }
    home = reverse("crew-give", args=[card["case"], dose["treatment"]])
    return f"{home}?{urlencode({name: value for name, value in told.items() if value})}"


def _plain(amount: Card) -> str:
    return f"{amount['value']:g} {amount['unit']}"
