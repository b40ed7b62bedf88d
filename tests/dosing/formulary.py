"""The rows on the formulary in ``tests/reference/dosing_values.csv``, and what the rule set says to each of them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import pytest

from dosing.check.bands import LIMITS, DoseLimits, Person
from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.mix import stock
from dosing.rules.rule_set import RuleSet, Treatment
from tests.dosing.bedside import adult, check, child, facts
from tests.dosing.dosing_values import ROWS

PEOPLE = re.compile(
    r"(?P<who>adult|child)(?: of (?P<kg>[\d.]+) kg)?(?: and (?P<age>[\d.]+) (?P<unit>days|months|years))?"
    r"(?:, (?P<history>\w+))?(?: in (?P<phase>\w+))?"
)
GIVEN = re.compile(
    r"(?P<slug>[a-z0-9-]+)(?: for (?P<indication>[a-z-]+))?(?: by (?P<route>[A-Z]+))?"
    r"(?:: (?P<dose>[\d.]+ \S+) of (?P<strength>[\d.]+ \S+))?"
)
DAYS = {"days": 1, "months": 30.4375, "years": 365.25}
Row = Mapping[str, str]


def formulary(group: str = "") -> list[Any]:
    """The rows, or those of one group, each under its own id."""
    ids = [name for name, row in ROWS.items() if row["topic"] == "formulary" and name.startswith(group)]
    return [pytest.param(ROWS[name], id=name) for name in ids]


def expected(row: Row) -> Amount:
    """The published value with its unit."""
    return Amount(float(row["expected"]), row["unit"])


def amount(text: str) -> Amount:
    """An amount as a row writes it: ``0.5 mcg/kg/min``."""
    value, unit = text.split()
    return Amount(float(value), unit)


def said(row: Row, rules: RuleSet) -> Amount:
    """What the rule set says where the row states a value, in the row's unit."""
    given, quantity = GIVEN.fullmatch(row["input"]), row["quantity"]
    assert given, row["input"]
    treatment = rules.treatment(given["slug"], given["indication"])
    if quantity in LIMITS:
        return _limit(row, treatment, given["route"])
    if quantity in ("interval", "shortest", "count"):
        return _figure(row, treatment, given["route"])
    if quantity == "strength":
        return next(each.amount for each in stock.strengths(treatment) if units.same(each.amount, expected(row)))
    return _drawn_up(row, given)


def person(row: Row, route: str) -> Person:
    """The patient of the row, as the limits see one."""
    found = PEOPLE.fullmatch(row["population"])
    assert found, row["population"]
    return Person(
        adult=found["who"] == "adult",
        days=None if found["age"] is None else float(found["age"]) * DAYS[found["unit"]],
        weight=None if found["kg"] is None else units.quantity(Amount(float(found["kg"]), "kg")),
        history=frozenset(filter(None, [found["history"]])),
        phase=found["phase"] or "transport",
        route=route,
    )


def _limits(row: Row, treatment: Treatment, route: str | None) -> DoseLimits:
    by = route or next(each for each in ("IV", "IM", "SC", "PO") if each in treatment.routes)
    return DoseLimits(treatment, person(row, by))


def _limit(row: Row, treatment: Treatment, route: str | None) -> Amount:
    limits, unit = _limits(row, treatment, route), row["unit"]
    exact = limits.ceiling(row["quantity"])
    assert exact is not None
    if units.per_kg(unit) and not units.is_per_kg(exact):
        exact = exact / limits.person.weight
    return units.amount(exact, unit)


def _figure(row: Row, treatment: Treatment, route: str | None) -> Amount:
    band = _limits(row, treatment, route).band(row["quantity"])
    figure = getattr(band or treatment, row["quantity"])
    return Amount(figure.value, row["unit"])


def _drawn_up(row: Row, given: re.Match[str]) -> Amount:
    """The volume of a dose of a strength, or the pump rate of a concentration."""
    found = PEOPLE.fullmatch(row["population"])
    assert found, row["population"]
    kg = None if found["kg"] is None else float(found["kg"])
    patient = adult(kg) if found["who"] == "adult" else child(float(found["age"] or 5), kg, found["unit"] or "years")
    dose, strength = amount(given["dose"]), amount(given["strength"])
    named = "concentration" if row["quantity"] == "rate" else "stock"
    told = check(
        *(given["slug"], dose.value, dose.unit, facts(patient)),
        route=given["route"],
        indication=given["indication"],
        **{named: strength},
    ).give
    shown = told.rate if row["quantity"] == "rate" else told.volume
    assert shown is not None
    return shown
