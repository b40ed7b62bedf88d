"""What a crew is told of pacing and shocks: the usual settings for this patient, as the rule set has them."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from dosing.ground import text, units
from dosing.ground.facts import Patient
from dosing.ground.language import gettext as _
from dosing.ground.patient import is_adult_for_dosing
from dosing.rules.parts import Figure
from dosing.rules.plain import source_text
from dosing.rules.procedures import ProcedureRule
from dosing.rules.rule_set import RuleSet


class Usual(NamedTuple):
    """The usual settings of one procedure for one rhythm, in words, and where they come from."""

    procedure: str
    title: str
    text: str
    source: str


def usual_settings(patient: Patient, rules: RuleSet) -> list[Usual]:
    """Those for an adult or a child, as doses tell them apart; energies by weight in J where the weight is known."""
    who = "adult" if is_adult_for_dosing(patient) else "child"
    weight = units.body_weight(patient.weight)
    kilograms = None if weight is None else units.number(weight, "kg")
    fitting = (rule for rule in rules.procedures if rule.who == who)
    return [Usual(rule.procedure, rule.title, _told(rule, kilograms), source_text(rule.source)) for rule in fitting]


def _told(rule: ProcedureRule, kilograms: Fraction | None) -> str:
    mode = () if rule.procedure == "pacing" else (_("synchronized") if rule.synchronized else _("not synchronized"),)
    return ", ".join([*_paced(rule), *_shocked(rule, kilograms), *mode])


def _paced(rule: ProcedureRule) -> Iterator[str]:
    if rule.rate is not None:
        yield _("{rate} a minute", rate=text.number_text(rule.rate.value))
    if rule.output_ma is not None:
        yield _("from {output_ma} mA", output_ma=text.number_text(rule.output_ma.value))
    if rule.step_ma is not None:
        yield _("up by {step_ma} mA until each beat has a pulse", step_ma=text.number_text(rule.step_ma.value))


def _shocked(rule: ProcedureRule, kilograms: Fraction | None) -> Iterator[str]:
    pairs = (("", rule.first_j, rule.first_j_per_kg), (_("then "), rule.next_j, rule.next_j_per_kg))
    for lead, fixed, by_weight in pairs:
        if fixed is not None:
            yield f"{lead}{text.number_text(fixed.value)} J"
        elif by_weight is not None:
            yield f"{lead}{_energy(by_weight, rule.most_j, kilograms)}"


def _energy(by_weight: Figure, most: Figure | None, kilograms: Fraction | None) -> str:
    """In J, no more than the most, with what it comes from; by weight alone while nobody knows that."""
    stated = _("{by_weight} J/kg", by_weight=text.number_text(by_weight.value))
    if kilograms is None:
        return stated
    exact = Fraction(str(by_weight.value)) * kilograms
    capped = exact if most is None else min(exact, Fraction(str(most.value)))
    return f"{text.number_text(capped)} J ({stated})"
