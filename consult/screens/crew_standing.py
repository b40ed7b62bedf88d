"""Where a treatment stands, for a page that counts on without a link: interval, what is left, the syringe in hand."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from fractions import Fraction
from typing import Any

from consult.clock import when
from consult.render.words import NEEDS, listed
from dosing.check.case import NO_CLASS
from dosing.check.findings import amount_dict
from dosing.ground import units
from dosing.ground.facts import Amount, Facts
from dosing.held import begun, ledger
from dosing.mix import dilution, syringes
from dosing.rules.rule_set import RuleSet, Treatment

Row = Mapping[str, Any]


def standing(card: Row, form: Row, treatment: Treatment, rules: RuleSet, known: Facts, now: datetime) -> dict[str, Any]:
    """What the page reckons with, as of the card's ``seq``: what the phone has sent since or keeps comes on top.

    ``group`` is the class over which intervals count, the treatment alone where it has none; ``every_min`` the least
    interval, ``phases`` those in which it may be given (none: in each), ``left`` doses and total before an order,
    ``syringe`` that from which a push is drawn, in mL, ``asks`` the reading that a dose asks for,
    ``bag`` what a further dose of a fluid finds in the newest bag, in mL (null: none was hung), ``lasts`` after how
    many minutes a push wears off, from and to.
    """
    item = form["item"]
    return {
        "seq": card["seq"],
        "group": treatment.slug if treatment.drug_class == NO_CLASS else treatment.drug_class,
        "next_at": item["next_at"] or None,
        "every_min": item["interval"] and item["interval"]["value"],
        "phase": card["phase"],
        "phases": sorted(treatment.phases),
        **{name: item.get(name) for name in ("most", "left")},
        "syringe": syringe(form, treatment, rules, known, now),
        "bag": ledger.left_for_more(known, rules, treatment),
        "asks": asks(treatment),
        "lasts": treatment.lasts and [float(treatment.lasts.least), float(treatment.lasts.most)],
    }


def syringe(form: Row, treatment: Treatment, rules: RuleSet, known: Facts, now: datetime) -> dict[str, Any] | None:
    """Size, marks and content (mL) of the syringe in hand, else of the one that the recipe makes; None without both.

    ``per_ml`` is the drug in 1 mL of it, ``whole`` what a new one holds where nobody recorded the one in hand.
    """
    held = max(form["in_syringe"], key=lambda each: when(each["mixed_at"]), default=None)
    if held is not None:
        per_ml = _in_one_ml(Amount(**held["strength"]))
        return {**_of(held["volume"]["value"], held["left"]["value"], rules), "per_ml": per_ml}
    made = dilution.labeled(treatment.recipe)[-1] if treatment.recipe else None
    if treatment.recipe is None or made is None or made.vessel != "syringe":
        return None
    volume, strength = units.amount(made.volume, "mL").value, treatment.recipe.makes.amount
    left = begun.left(treatment, Fraction(str(volume)), known, rules, now)
    return {
        **_of(volume, float(left), rules),
        "whole": amount_dict(Amount(volume, "mL"))["value"],
        "per_ml": _in_one_ml(strength),
    }


def asks(treatment: Treatment) -> dict[str, Any] | None:
    """The reading that a dose asks for and when, so that a phone can tell it before the server does; None without.

    ``again``: while it runs it asks for one pressure after the other.
    """
    rule = treatment.reassessment
    if rule is None:
        return None
    return {
        "because": treatment.title,
        "needs": rule.needs,
        "needs_text": listed(NEEDS.get(each, each) for each in rule.needs),
        "also_text": listed((NEEDS.get(each, each) for each in rule.also), none=""),
        **{name: getattr(rule, name) for name in ("due_min", "counts_from_min", "counts_from_end", "max_min")},
        "again": (treatment.drug_class, treatment.form) == ("pressor", "infusion"),
    }


def _of(volume: float, left: float, rules: RuleSet) -> dict[str, Any]:
    """The smallest syringe that holds the volume; one larger than the rule set names is as large as what is in it."""
    found = syringes.holding(Fraction(str(volume)), rules)
    size, reads = (found[0].value, found[1].value) if found else (volume, None)
    told = {name: amount_dict(Amount(value, "mL"))["value"] for name, value in (("size", size), ("left", left))}
    return {**told, "reads": reads}


def _in_one_ml(strength: Amount) -> dict[str, Any]:
    return amount_dict(Amount(strength.value, strength.unit.removesuffix("/mL")))
