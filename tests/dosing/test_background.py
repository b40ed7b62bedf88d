"""What is known of a patient from before changes what may be given: history, pregnancy, care limits, refusals.

Dopamine after MAO inhibitors at one tenth: its prescribing information (read). 250 mL at a time in heart failure and
dialysis, and systolic 100 in pregnancy, are the rule set's own choice.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground.facts import Age, Amount, Facts, Patient
from dosing.load import reader
from dosing.patient.goals import goal_for
from dosing.rules.words import HISTORY
from tests.dosing.bedside import CONSERVATIVE, RULES, adult, check, child, codes, facts, given, told

BOLUS, PUSH, DRIP = "crystalloid-bolus", "epinephrine-push-dose", "dopamine-infusion"
BOTH = pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)


def levels(treatment: str, value: float, unit: str, known: Facts, **more: Any) -> dict[str, str]:
    return {each.code: each.level for each in check(treatment, value, unit, known, **more).findings}


# ---- heart failure and dialysis


@BOTH
@pytest.mark.parametrize("history", ["heart_failure", "dialysis"])
@pytest.mark.parametrize(
    ("patient", "milliliters"),
    [
        (adult(80), 250),
        (adult(None), 250),
        (child(5, 18), 180),
        (child(9, 30), 250),
        (child(1, 4), 40),
    ],
    ids=["80 kg", "unknown weight", "child of 18 kg", "child of 30 kg", "child of 4 kg"],
)
def test_fluid_comes_in_small_steps_in_heart_failure_and_dialysis(rules, history, patient, milliliters):
    known = facts(Patient(age=patient.age, weight=patient.weight, history=(history,)), doses=(), impression="septic")

    assert told(BOLUS, known, rules)["most"] == {"value": milliliters, "unit": "mL"}
    assert levels(BOLUS, milliliters, "mL", known, rules=rules) == {"history": "caution"}
    assert "above_most" in levels(BOLUS, milliliters + 1, "mL", known, rules=rules)


def test_without_them_the_steps_are_the_usual_ones():
    assert told(BOLUS, facts(adult(80, history=("pacemaker",)), doses=()))["most"]["value"] == 1000


# ---- MAO inhibitors


@pytest.mark.parametrize(
    ("history", "rate", "expected"),
    [
        (("maoi",), 0.5, {"starts_by_order", "history"}),
        (("maoi",), 1, {"starts_by_order", "history", "above_guide"}),
        (("maoi",), 1.1, {"starts_by_order", "history", "above_most"}),
        (("maoi",), 2.1, {"starts_by_order", "history", "above_hard_limit"}),
        ((), 2.1, {"starts_by_order"}),
        ((), 10.1, {"starts_by_order", "above_most"}),
    ],
)
def test_dopamine_at_one_tenth_after_mao_inhibitors(history, rate, expected):
    known = facts(adult(80, history=history))

    assert codes(check(DRIP, rate, "mcg/kg/min", known, concentration=Amount(1600, "mcg/mL"))) == expected


@pytest.mark.parametrize(
    ("history", "treatment", "dose"),
    [
        ("maoi", PUSH, (10, "mcg")),
        ("maoi", "phenylephrine-push-dose", (50, "mcg")),
        ("pacemaker", "atropine", (1, "mg")),
        ("beta_blocker", "epinephrine-im", (0.5, "mg")),
        ("anticoagulant", "tranexamic-acid", (1, "g")),
    ],
)
def test_a_history_that_speaks_against_a_treatment_is_told_with_it(history, treatment, dose):
    """A caution: it holds nothing back by itself."""
    assert levels(treatment, *dose, facts(adult(history=(history,))))["history"] == "caution"
    assert "history" not in levels(treatment, *dose, facts(adult(history=("steroid_dependent",))))


def test_each_history_that_is_asked_for_is_read_by_a_rule():
    wanted = {wants.history for treatment in RULES.treatments.values() for wants in treatment.wants}
    wheres = [each.where for treatment in RULES.treatments.values() for each in (*treatment.bands, *treatment.cautions)]
    read = wanted.union(*(where.history for where in wheres if where is not None))

    assert read >= HISTORY


# ---- pregnancy


@pytest.mark.parametrize(
    ("weeks", "injuries", "floors"),
    [(None, (), (90, 65)), (19, (), (90, 65)), (20, (), (100, 65)), (38, (), (100, 65)), (30, ("head",), (110, 65))],
)
def test_a_pregnant_patient_has_a_goal_of_her_own_from_20_weeks(weeks, injuries, floors):
    patient = Patient(age=Age(30, "years"), pregnancy_weeks=weeks, injuries=injuries)
    goal = goal_for(facts(patient), RULES)
    systolic, mean = (goal.floor, goal.other_floor) if goal.measure == "sbp" else (goal.other_floor, goal.floor)

    assert (systolic, mean) == floors


def test_bleeding_permits_no_lower_pressure_in_pregnancy():
    patient = Patient(age=Age(30, "years"), pregnancy_weeks=30, bleeding_cause="trauma")

    assert goal_for(facts(patient, impression="hemorrhagic"), RULES).floor == 100


@pytest.mark.parametrize(("weeks", "tilted"), [(20, True), (19, False), (None, False)])
def test_from_20_weeks_the_patient_is_tilted(weeks, tilted):
    cautions = told(BOLUS, facts(adult(pregnancy_weeks=weeks)))["cautions"]

    assert any("tilt" in each for each in cautions) is tilted


# ---- bleeding that is controlled


@pytest.mark.parametrize(("controlled", "floor", "first"), [(False, 80, True), (True, 65, False)])
def test_once_bleeding_is_controlled_the_usual_goal_holds_again(controlled, floor, first):
    patient = adult(bleeding_cause="trauma", bleeding_controlled=controlled)
    known = facts(patient, impression="hemorrhagic")

    assert goal_for(known, RULES).floor == floor
    assert ("bleeding_first" in codes(check(PUSH, 10, "mcg", known))) is first


# ---- care limits and refusals


@pytest.mark.parametrize(
    ("limits", "treatment", "dose", "found"),
    [
        ("comfort", PUSH, (10, "mcg"), "needs_order"),
        ("comfort", "norepinephrine-infusion", (0.1, "mcg/kg/min"), "needs_order"),
        ("comfort", "blood-product", (1, "bag"), "needs_order"),
        ("comfort", BOLUS, (250, "mL"), None),
        ("comfort", "fentanyl", (20, "mcg"), None),
        ("comfort", "epinephrine-im", (0.5, "mg"), None),
        ("no_cpr", PUSH, (10, "mcg"), None),
        ("no_intubation", PUSH, (10, "mcg"), None),
        ("full", PUSH, (10, "mcg"), None),
    ],
)
def test_comfort_care_asks_before_pressors_and_blood(limits, treatment, dose, found):
    assert levels(treatment, *dose, facts(adult(care_limits=limits))).get("care_limits") == found


@pytest.mark.parametrize(("limits", "found"), [("no_intubation", True), ("comfort", True), ("no_cpr", False)])
def test_what_leads_to_an_airway_is_asked_for_where_it_is_limited(limits, found):
    flags = 'flags = ["no_pressure_since_last_dose", "measurable", "pressure_low_is_caution"]'
    draft = reader.loads(RULES.text.replace(flags, flags.replace('"measurable"', '"measurable", "airway"')))
    known = facts(adult(care_limits=limits))

    assert ("care_limits" in levels("ketamine", 8, "mg", known, rules=draft)) is found
    assert "care_limits" not in levels("midazolam", 1, "mg", known, rules=draft)


@pytest.mark.parametrize(("refuses", "found"), [(True, "needs_order"), (False, None)])
def test_blood_that_is_refused_is_by_order(refuses, found):
    known = facts(adult(refuses_blood=refuses), doses=(given(BOLUS, 20, 250, "mL"),))

    assert levels("blood-product", 1, "bag", known).get("refuses_blood") == found
    assert "refuses_blood" not in levels(BOLUS, 250, "mL", known)
