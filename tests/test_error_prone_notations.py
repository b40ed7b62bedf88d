"""The list of error-prone notations finds what it names and nothing else, and nothing of it in what the rules say."""

from __future__ import annotations

from itertools import product

import pytest

from dosing.ground.facts import Age, Amount, Facts, Patient, Weight
from dosing.rules.plain import plain
from dosing.rules.rule_set import RuleSet
from dosing.tell import guidance
from tests.depth import thinned
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, ago, check, facts, given
from tests.error_prone import LIST, NOTATIONS, find, said

BOTH = pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
IMPRESSIONS = ("septic", "hemorrhagic", "cardiogenic", "anaphylactic", "undifferentiated")
PATIENTS = {
    "adult": Patient(age=Age(54, "years"), weight=Weight(82.5, "kg", "measured"), onset_at=ago(200)),
    "adult of unknown weight": Patient(allergies=("sulfite", "fentanyl", "latex"), fluid_restricted=True),
    "child": Patient(age=Age(5, "years"), weight=Weight(18.3, "kg", "length"), onset_at=ago(30)),
    "child of unknown weight": Patient(age=Age(7, "years")),
    "newborn": Patient(age=Age(9, "days"), weight=Weight(0.7, "kg", "age")),
}
ROUTES = ("IV", "PO")


@pytest.mark.parametrize("notation", NOTATIONS, ids=lambda notation: notation["name"])
def test_each_notation_is_found_and_the_safe_writing_is_not(notation):
    for text in notation["unsafe"]:
        assert notation["name"] in {found.notation for found in find(text)}, text
    for text in notation["safe"]:
        assert notation["name"] not in {found.notation for found in find(text)}, text


def test_each_notation_has_its_source_and_what_stays_its_reason():
    assert len(NOTATIONS) > 50
    for notation in NOTATIONS:
        assert notation["source"] in LIST["sources"]
        assert notation["mark"] in ("read", "memory")
        assert notation["misread"]
        assert notation["write"]
    assert all(entry["because"] and entry["stays"] for entry in LIST["forced"])


def test_units_that_the_contract_forces_are_no_finding():
    """What is forced is either not found at all, or only where a person would read it: the codes of the routes."""
    units, *routes = LIST["forced"]

    assert [found for unit in units["stays"] for found in find(f"5 {unit}")] == []
    assert all(list(find(code)) for entry in routes for code in entry["stays"])


@BOTH
def test_the_rule_sets_themselves(rules: RuleSet):
    assert faults(said(plain(rules))) == []


@BOTH
@pytest.mark.parametrize("patient", PATIENTS)
def test_guidance_for_everybody(rules: RuleSet, patient: str):
    everything = product(IMPRESSIONS, ((70, 40), (128, 74), (None, None)))
    for impression, (sbp, dbp) in thinned(everything, every=4, first=len(patient)):
        known = case(PATIENTS[patient], impression, sbp, dbp)
        assert faults(said(guidance.guidance(known, rules, TEN))) == []


@BOTH
@pytest.mark.parametrize("treatment", sorted(RULES.treatments))
def test_checks_of_every_treatment(rules: RuleSet, treatment: str):
    """From far too little to far too much, in every unit, strength and route, for everybody."""
    asked = product(PATIENTS.values(), proposals(rules, treatment), ROUTES)
    for patient, (value, unit), route in thinned(asked, every=8, first=len(treatment)):
        known = case(patient, "hemorrhagic", 70, 40)
        for stock in (None, Amount(0.05, "mg/mL"), *(one.amount for one in rules.treatments[treatment].stocks)):
            try:
                checked = check(treatment, value, unit, known, rules=rules, route=route, stock=stock, over_min=1.25)
            except ValueError:
                continue  # of another kind than the treatment or its strength: refused, nothing is shown
            assert faults(said(checked.as_dict())) == []


def proposals(rules: RuleSet, treatment: str) -> list[tuple[float, str]]:
    unit = rules.treatments[treatment].unit
    others = {unit, unit.replace("mcg", "mg"), unit.replace("mg", "mcg"), unit.removesuffix("/kg")}
    return list(product((0.003, 1.05, 1234.5), sorted(others)))


def case(patient: Patient, impression: str, sbp: float | None, dbp: float | None) -> Facts:
    doses = (
        given("epinephrine-push-dose", 1.3, 12.5, "mcg"),
        given("crystalloid-bolus", 20, 1250.5, "mL"),
        given("tranexamic-acid", 40, 1, "g", prior=True),
        given("norepinephrine-infusion", 30, 0.05, "mcg/kg/min", status="running"),
    )
    return facts(patient, impression=impression, sbp=sbp, dbp=dbp, doses=doses)


def faults(texts) -> list[str]:
    return [str(found) for text in texts for found in find(text)]
