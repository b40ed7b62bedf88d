"""What was given so far: a line per treatment, and what is running."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from functools import reduce
from operator import add
from typing import Any

from consult.clock import stamp
from dosing import units
from dosing.facts import Amount, Dose
from dosing.rule_set import RuleSet


def totals(doses: Iterable[Dose], rules: RuleSet) -> list[dict[str, Any]]:
    """Per treatment, in the order of the first dose: how often, how much in all, when last.

    A running or ended infusion adds no total: its amount is a rate.
    """
    lines: dict[str, list[Dose]] = {}
    for dose in doses:
        lines.setdefault(dose.name or dose.treatment, []).append(dose)
    return [_line(given, rules) for given in lines.values()]


def _line(given: list[Dose], rules: RuleSet) -> dict[str, Any]:
    first = given[0]
    treatment = rules.treatments.get(first.treatment)
    return {
        "treatment": first.treatment,
        "title": treatment.title if treatment else first.name or first.treatment,
        "count": len(given),
        "total": _total([amount for dose in given if (amount := amount_in(dose))]),
        "last_at": stamp(given[-1].given_at),
    }


def amount_in(dose: Dose) -> Amount | None:
    """How much of a dose went in: what was infused of an ended one, else its amount; None for a rate."""
    if dose.infused:
        return dose.infused
    return dose.amount if dose.amount and "/" not in dose.amount.unit else None


def _total(amounts: list[Amount]) -> dict[str, Any] | None:
    """All of them together in the unit of the first; one of another kind (a bag beside mL) is left to its own line."""
    if not amounts:
        return None
    unit = amounts[0].unit
    alike = [units.quantity(amount) for amount in amounts if units.kind(amount.unit) == units.kind(unit)]
    return asdict(units.amount(reduce(add, alike), unit))


def running(doses: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The doses that still run, with their rate, as the card shows them."""
    return [dose for dose in doses if dose["status"] == "running" and not dose["in_error"]]
