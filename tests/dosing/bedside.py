"""The patients of the dosing tests, what is known of them, and how a dose is put to the rules."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from dosing.check import limits
from dosing.check.case import Question, bedside
from dosing.check.findings import LEVELS
from dosing.ground.facts import Age, Amount, Dose, Facts, Latest, Order, Patient, Proposal, Reading, Weight
from dosing.load import reader
from dosing.rules import rule_set
from dosing.tell import guidance

TEN = datetime(2030, 1, 5, 10, 0, tzinfo=UTC)
RULES = reader.load_shipped("demonstration")
CONSERVATIVE = reader.load_shipped("conservative")


def ago(minutes: float) -> datetime:
    """A moment so many minutes before ten o'clock."""
    return TEN - timedelta(minutes=minutes)


def adult(kg: float | None = 80, **more: Any) -> Patient:
    """Ada, 54 years."""
    return Patient(age=Age(54, "years"), weight=None if kg is None else Weight(kg, "kg", "measured"), **more)


def child(years: float = 5, kg: float | None = 18, unit: str = "years", **more: Any) -> Patient:
    """Ben, 5 years and 18 kg unless said otherwise."""
    return Patient(age=Age(years, unit), weight=None if kg is None else Weight(kg, "kg", "measured"), **more)


def facts(patient: Patient | None = None, *, sbp: float | None = 70, dbp: float | None = 40, **more: Any) -> Facts:
    """A case with one pressure a minute ago, low for everybody, clear lungs, and 250 mL given an hour ago."""
    signs = {"lungs": "clear", "avpu": "A", "hr": 50, "rr": 8, "spo2": 97, "glucose_mg_dl": 40} | more.pop("signs", {})
    readings = (Reading(taken_at=ago(1), sbp=sbp, dbp=dbp),) if sbp is not None else ()
    fluid = Dose(id="fluid", treatment="crystalloid-bolus", given_at=ago(60), amount=Amount(1, "mL"))
    return Facts(
        patient=patient or adult(),
        opened_at=ago(90),
        readings=more.pop("readings", readings),
        latest={name: Latest(value, ago(1)) for name, value in signs.items() if value is not None},
        doses=more.pop("doses", (fluid,)),
        **more,
    )


def given(treatment: str, minutes_ago: float, value: float, unit: str, **more: Any) -> Dose:
    """A dose given so many minutes ago."""
    name = f"{treatment} {minutes_ago}"
    return Dose(id=name, treatment=treatment, given_at=ago(minutes_ago), amount=Amount(value, unit), **more)


def check(
    treatment: str,
    value: float,
    unit: str,
    known: Facts | None = None,
    *,
    route: str | None = None,
    rules: rule_set.RuleSet = RULES,
    order: Order | None = None,
    **more: Any,
) -> limits.Check:
    """A dose put to the rules at ten o'clock, by the first route that the treatment allows; each finding says why."""
    by = route or usual_route(treatment)
    proposal = Proposal(treatment=treatment, amount=Amount(value, unit), route=by, at=more.pop("at", TEN), **more)
    checked = limits.check(proposal, known or facts(), rules, order=order)
    assert all(each.text and each.source and each.level in LEVELS for each in checked.findings)
    return checked


def usual_route(treatment: str) -> str:
    """By a vein where the rules allow that, else the first route that they name."""
    if treatment not in RULES.treatments:
        return "IV"
    routes = RULES.treatment(treatment).routes  # for its usual indication
    return "IV" if "IV" in routes else min(routes)


def usual_dose(treatment: rule_set.Treatment, rules: rule_set.RuleSet = RULES) -> Amount:
    """A dose that is usual for 80 kg; where an adult has no standing one, the first that its limits name."""
    entry = told(treatment.slug, facts(sbp=120, dbp=80, signs={"glucose_mg_dl": 250}), rules=rules)
    standing = [Amount(**each) for each in (entry["least"], entry["most"]) if each]
    limits_of = (each for band in treatment.bands for each in (band.least, band.guide, band.most, band.hard))
    named = [each.amount for each in limits_of if each]
    if treatment.form == "infusion":
        return [*standing, *named][0]
    at_80 = (Amount(each.value * (80 if "/kg" in each.unit else 1), each.unit.replace("/kg", "")) for each in named)
    return [*standing, *at_80][0]


def codes(checked: limits.Check) -> set[str]:
    """The codes that a check found."""
    return {finding.code for finding in checked.findings}


def told(
    treatment: str,
    known: Facts | None = None,
    rules: rule_set.RuleSet = RULES,
    indication: str | None = None,
    route: str = "",
) -> dict[str, Any]:
    """The guidance for one treatment at ten o'clock, for its usual indication and by its usual route if not said."""
    given_for = rules.treatment(treatment, indication)
    return guidance.entry(Question(bedside=bedside(known or facts(), rules, TEN), treatment=given_for, route=route))
