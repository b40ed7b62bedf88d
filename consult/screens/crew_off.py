"""What a crew does where an infusion lost its line: run it by another one, ask for the antidote of a pressor."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from consult.render.lost_lines import ANTIDOTE, off
from dosing.rules.rule_set import RuleSet

Card = Mapping[str, Any]


def rows(card: Card, rules: RuleSet) -> list[dict[str, Any]]:
    """What is off for want of a line, each with where it is started again, as it ran, and its antidote is asked for."""
    ask = f"{reverse('crew-request', args=[card['case']])}?{urlencode({'treatment': ANTIDOTE})}"
    return [
        {
            **each,
            "title": each["dose"]["title"],
            "again": _again(card, each["dose"]) if each["dose"]["treatment"] in rules.treatments else "",
            "ask": ask if each["antidote"] else "",
            "cautions": [caution.text for caution in rules.treatments[ANTIDOTE].cautions] if each["antidote"] else [],
        }
        for each in off(card, rules)
    ]


def _again(card: Card, dose: Card) -> str:
    """Where it is started anew; what is held runs again on its own page."""
    if dose["status"] == "held":
        return reverse("crew-change", args=[card["case"], dose["id"]])
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
