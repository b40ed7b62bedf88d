"""What was given so far: a line per treatment, and what is running."""

from __future__ import annotations

from dataclasses import asdict
from functools import reduce
from operator import add
from typing import Any

from consult.clock import stamp
from dosing import units
from dosing.facts import Amount, Dose, Facts
from dosing.limits_case import Bedside, Question, bedside
from dosing.rule_set import RuleSet


def totals(facts: Facts, rules: RuleSet) -> list[dict[str, Any]]:
    """Per treatment, in the order of the first dose: how often, how much in all, when last.

    What the rule set knows adds up as its limits count it. A running infusion adds no total: its amount is a rate.
    """
    lines: dict[str, list[Dose]] = {}
    for dose in facts.doses:
        lines.setdefault(dose.name or dose.treatment, []).append(dose)
    at_bedside = bedside(facts, rules, max((dose.given_at for dose in facts.doses), default=facts.opened_at))
    return [_line(given, at_bedside) for given in lines.values()]


def _line(given: list[Dose], at_bedside: Bedside) -> dict[str, Any]:
    first = given[0]
    treatment = at_bedside.rules.treatments.get(first.treatment)
    asked = treatment and treatment.form != "infusion" and Question(bedside=at_bedside, treatment=treatment)
    return {
        "treatment": first.treatment,
        "title": treatment.title if treatment else first.name or first.treatment,
        "count": len(given),
        "total": _used(asked, given) if asked else _total([amount for dose in given if (amount := _amount_in(dose))]),
        "last_at": stamp(given[-1].given_at),
    }


def _used(asked: Question, given: list[Dose]) -> dict[str, Any] | None:
    """The sum by which the limits go, in the unit of the first dose; bags beside a volume as the volume they hold."""
    if asked.used is None:
        return None
    stated = [dose.amount.unit.removesuffix("/kg") for dose in given if dose.amount]
    bag, unit = asked.treatment.bag, asked.treatment.unit
    if bag is not None:
        volume, whole = (
            units.amount(asked.used, "mL"),
            set(stated) == {"bag"} and not any(each.infused for each in given),
        )
        return {"value": volume.value / bag.value, "unit": "bag"} if whole else asdict(volume)
    return asdict(
        units.amount(asked.used, next((each for each in stated if units.kind(each) == units.kind(unit)), unit))
    )


def _amount_in(dose: Dose) -> Amount | None:
    """How much of a dose went in: what was infused of an ended one, else its amount; None for a rate."""
    if dose.infused:
        return dose.infused
    return dose.amount if dose.amount and "/" not in dose.amount.unit else None


def _total(amounts: list[Amount]) -> dict[str, Any] | None:
    """All of them together in the unit of the first; what is of another kind cannot be added."""
    if not amounts:
        return None
    unit = amounts[0].unit
    alike = [units.quantity(amount) for amount in amounts if units.kind(amount.unit) == units.kind(unit)]
    return asdict(units.amount(reduce(add, alike), unit))


def running(doses: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The doses that still run, with their rate, as the card shows them."""
    return [dose for dose in doses if dose["status"] == "running" and not dose["in_error"]]
