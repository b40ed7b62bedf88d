"""What a crew can have in its hand while it reads an order back, each with its label; nothing is chosen for it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from consult.render.treatments import goes_on
from consult.screens import crew_treatments
from consult.screens.crew_in_hand import strengths
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text
from dosing.rules.rule_set import RuleSet, Treatment

Row = Mapping[str, Any]


def labels(card: Row, rules: RuleSet) -> list[dict[str, str]]:
    """The labels of what is in hand, of what runs and, in every strength, of the drugs that this crew asked for."""
    found = {(each["treatment"], each["strength"]): each for each in reversed([*_labels(card, rules)])}
    return list(reversed(found.values()))


def _labels(card: Row, rules: RuleSet) -> Iterator[dict[str, str]]:
    for held in reversed(card.get("in_hand") or ()):
        if held["treatment"] in rules.treatments and held["strength"] and held["left"]["value"]:
            yield _label(held["treatment"], held["strength"], rules, _("in hand"))
    for dose in card.get("running") or ():
        if goes_on(dose) and dose["treatment"] in rules.treatments and dose["concentration"]:
            yield _label(dose["treatment"], dose["concentration"], rules, _("runs"))
    for order in card.get("orders") or ():
        if order["steps"][0]["step"] == "requested" and order["treatment"] in rules.treatments:
            for strength in strengths(rules.treatments[order["treatment"]]) or [{}]:
                yield _label(order["treatment"], strength, rules)


def _label(slug: str, strength: Row, rules: RuleSet, where: str = "") -> dict[str, str]:
    amount = Amount(float(strength["value"]), strength["unit"]) if strength else None
    return {
        "treatment": slug,
        "title": crew_treatments.title(rules.treatments[slug], rules),
        "strength": f"{amount.value:g} {amount.unit}" if amount else "",
        "text": amount_text(amount) if amount else "",
        "where": where,
    }


def drugs(rules: RuleSet) -> list[dict[str, Any]]:
    """Every drug of the rule set under its heading, with what its label or pump says: the same list for every order."""
    said = {slug: says(treatment) for slug, treatment in rules.treatments.items()}
    groups = crew_treatments.all_titles(rules)
    return [
        {**group, "items": [{**item, "said": said[item["treatment"]]} for item in group["items"]]} for group in groups
    ]


def says(treatment: Treatment) -> str:
    """In which words it is read back: pump rate, volume, or the dose alone, each by the form's own name."""
    if treatment.form == "infusion":
        return "rate"
    return "volume" if treatment.form in ("push", "im") and strengths(treatment) else "amount"
