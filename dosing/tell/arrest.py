"""What a crew is offered in cardiac arrest: energies and doses for this patient, rhythms, reversible causes, airways.

Numbers come from the rule set, the lists from ``arrest.toml``.
"""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
from typing import Any, NamedTuple

from msgspec import structs

from dosing.check.case import Question, bedside
from dosing.ground import text, units
from dosing.ground.facts import Amount, Facts, Patient
from dosing.ground.language import gettext as _
from dosing.ground.patient import is_adult_for_dosing
from dosing.ground.phases import ARREST, PhaseChange
from dosing.ground.tables import load
from dosing.rules.rule_set import RuleSet, Treatment
from dosing.tell import guidance

_LISTS = load("tell/arrest")
RHYTHMS = [
    *((short, name, True) for short, name in _LISTS["rhythms"]["shockable"]),
    *((short, name, False) for short, name in _LISTS["rhythms"]["others"]),
]
CAUSES: list[str] = _LISTS["causes"]["names"]
AIRWAYS: list[str] = _LISTS["airways"]["names"]
SHOCK = "defibrillation"


class ArrestDose(NamedTuple):
    """A dose that is for an arrest alone: the most that stands, None while the weight is not known; its volumes."""

    treatment: str
    title: str
    amount: Amount | None
    volumes: str
    routes: list[str]
    every_min: float | None


def doses(facts: Facts, rules: RuleSet, now: datetime) -> list[ArrestDose]:
    """Those of this patient, as if the arrest began now; the rule set's first-line one first."""
    begun = PhaseChange("", ARREST, now)
    there = bedside(structs.replace(facts, phases=(*facts.phases, begun)), rules, now)
    alone = [each for each in rules.treatments.values() if each.phases == {ARREST}]
    return [_dose(Question(bedside=there, treatment=each), each, rules) for each in alone]


def _dose(question: Question, treatment: Treatment, rules: RuleSet) -> ArrestDose:
    offered = guidance.entry(question)["usual"]
    largest: dict[str, Any] = offered[-1] if offered else {"amount": None, "volumes": ()}
    stated = largest["amount"]
    told = [each for each in largest["volumes"] if "volume" in each]
    volumes = (_("{given} of {limit}", given=_said(each["volume"]), limit=_said(each["strength"])) for each in told)
    return ArrestDose(
        treatment=treatment.slug,
        title=text.drug_text(treatment.title, rules.tall_man),
        amount=Amount(**stated) if stated else None,
        volumes=_(" or ").join(volumes),
        routes=sorted(treatment.routes, key=lambda route: (route != "IV", route)),
        every_min=question.interval.value if question.interval else None,
    )


def _said(amount: dict[str, Any]) -> str:
    return text.amount_text(Amount(**amount))


def energies(patient: Patient, rules: RuleSet) -> list[int]:
    """Of a shock, in J: the first and the next of the rule set; empty for a child whose weight is not known."""
    who = "adult" if is_adult_for_dosing(patient) else "child"
    rule = next((each for each in rules.procedures if (each.procedure, each.who) == (SHOCK, who)), None)
    weight = units.body_weight(patient.weight)
    if rule is None:
        return []
    fixed = [figure.value for figure in (rule.first_j, rule.next_j) if figure]
    by_weight = [figure.value for figure in (rule.first_j_per_kg, rule.next_j_per_kg) if figure]
    if weight is not None:
        kilograms = units.number(weight, "kg")
        most = Fraction(str(rule.most_j.value)) if rule.most_j else None
        exact = [Fraction(str(value)) * kilograms for value in by_weight]
        fixed += [float(each if most is None else min(each, most)) for each in exact]
    return list(dict.fromkeys(max(1, round(value)) for value in fixed))
