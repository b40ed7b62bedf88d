"""Drugs in cardiac arrest and after a pulse is back: when they are given, what they count in, what comes first."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount
from dosing.ground.phases import PhaseChange
from dosing.patient.goals import goal_for
from dosing.patient.reassess import opened_by
from dosing.rules.names import treatment_told
from dosing.tell.guidance import guidance
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, adult, ago, check, child, codes, facts, given

BOTH = pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
ARREST, PUSH = "epinephrine-arrest", "epinephrine-push-dose"


def since(phase: str) -> tuple[PhaseChange, ...]:
    """The case has been in the phase for a quarter of an hour."""
    return (PhaseChange("p", phase, ago(15)),)


NO_PRESSURE = {"sbp": None, "phases": since("arrest")}


@BOTH
def test_an_arrest_dose_needs_no_pressure_no_weight_and_no_order(rules):
    """Life support: 1 mg every 3-5 min, a child 0.01 mg/kg; nothing is measured first."""
    for known, dose in ((facts(adult(None), **NO_PRESSURE), 1), (facts(child(), **NO_PRESSURE), 0.18)):
        checked = check(ARREST, dose, "mg", known, rules=rules)
        assert (checked.verdict, checked.findings) == ("within", ())


@BOTH
@pytest.mark.parametrize("phase", ["transport", "pulse_back", "ended"])
@pytest.mark.parametrize(
    ("treatment", "indication", "value", "unit"),
    [
        (ARREST, None, 1, "mg"),
        ("amiodarone", "arrest", 300, "mg"),
        ("lidocaine", "arrest", 100, "mg"),
        ("sodium-bicarbonate", "arrest", 50, "mEq"),
        ("calcium-chloride", "arrest", 1, "g"),
        ("calcium-gluconate", "arrest", 3, "g"),
    ],
)
def test_arrest_doses_are_over_a_hard_limit_with_a_pulse(treatment, indication, value, unit, phase, rules):
    checked = check(treatment, value, unit, facts(phases=since(phase)), indication=indication, rules=rules)

    assert ("phase" in codes(checked), checked.verdict) == (True, "over_hard_limit")
    assert "phase" not in codes(check(treatment, value, unit, facts(phases=since("arrest")), indication=indication))


@pytest.mark.parametrize("push", [PUSH, "phenylephrine-push-dose"])
def test_a_push_dose_is_none_of_an_arrest_and_is_again_with_a_pulse(push):
    found = {
        phase: "phase" in codes(check(push, 10, "mcg", facts(phases=since(phase))))
        for phase in ("arrest", "pulse_back")
    }

    assert found == {"arrest": True, "pulse_back": False}


def test_arrest_doses_count_in_no_push_total_no_interval_of_pressors_and_ask_for_no_pressure():
    milligrams = tuple(given(ARREST, number, 1, "mg") for number in (9, 6, 1))
    after = facts(doses=milligrams, phases=since("pulse_back"))

    assert not codes(check(PUSH, 10, "mcg", after)) & {"total_reached", "count_reached", "too_soon", "above_hard_limit"}
    assert "no_pressure_since_last_dose" not in codes(check(PUSH, 10, "mcg", after))
    assert [opened_by(dose, RULES) for dose in milligrams] == [None, None, None]


@pytest.mark.parametrize(("minutes", "soon"), [(2, True), (3, False), (5, False)])
def test_every_three_to_five_minutes(minutes, soon):
    known = facts(
        doses=(given(ARREST, minutes, 1, "mg"), given("epinephrine-im", 1, 0.5, "mg")), phases=since("arrest")
    )

    assert ("too_soon" in codes(check(ARREST, 1, "mg", known))) is soon


@BOTH
def test_in_an_arrest_its_drugs_stand_first_and_otherwise_they_are_not_called_for(rules):
    def order(phase):
        return [(row["treatment"], row["relevant"]) for row in guidance(facts(phases=since(phase)), rules, TEN)]

    assert order("arrest")[:3] == [(ARREST, True), ("amiodarone", True), ("lidocaine", True)]
    assert dict(order("transport"))[ARREST] is False


@pytest.mark.parametrize(
    ("before", "value", "found"),
    [((), 300, "within"), ((300,), 150, "within"), ((300,), 300, "needs_order"), ((300, 150), 150, "needs_order")],
)
def test_amiodarone_three_hundred_then_a_hundred_and_fifty(before, value, found):
    doses = tuple(given("amiodarone", 12 - 5 * place, each, "mg") for place, each in enumerate(before))
    known = facts(doses=doses, phases=since("arrest"))

    assert check("amiodarone", value, "mg", known, stock=Amount(50, "mg/mL")).verdict == found


@pytest.mark.parametrize(
    ("treatment", "indication", "value", "unit"),
    [
        ("amiodarone", "tachycardia", 150, "mg"),
        ("amiodarone-infusion", None, 1, "mg/min"),
        ("lidocaine", "tachycardia", 80, "mg"),
        ("sodium-bicarbonate", "tricyclic", 80, "mEq"),
        ("sodium-bicarbonate", "hyperkalemia", 50, "mEq"),
        ("calcium-chloride", "hyperkalemia", 1, "g"),
        ("calcium-gluconate", "calcium-channel-blocker", 3, "g"),
    ],
)
def test_with_a_pulse_they_start_by_order_and_are_followed_by_readings(treatment, indication, value, unit):
    known = facts(sbp=120, dbp=80, signs={"hr": 180})
    checked = check(treatment, value, unit, known, indication=indication)
    asked = opened_by(given(treatment, 0, value, unit, indication=indication), RULES)

    assert "starts_by_order" in codes(checked)
    assert "pressure" in asked.needs


@pytest.mark.parametrize(("minutes", "fast"), [(9, True), (10, False)])
def test_amiodarone_with_a_pulse_takes_ten_minutes(minutes, fast):
    """Prescribing information: 150 mg over 10 min."""
    checked = check("amiodarone", 150, "mg", indication="tachycardia", over_min=minutes)

    assert ("too_fast" in codes(checked)) is fast


@pytest.mark.parametrize(
    ("mg_per_min", "concentration", "rate"), [(1, 1.8, 33.3333), (0.5, 1.8, 16.6667), (1, 1.5, 40)]
)
def test_pump_rates_of_amiodarone(mg_per_min, concentration, rate):
    """By hand: 60 times the rate over the concentration."""
    checked = check("amiodarone-infusion", mg_per_min, "mg/min", concentration=Amount(concentration, "mg/mL"))

    assert checked.give.rate.value == pytest.approx(rate, abs=1e-3)


def test_a_newborn_gets_the_thin_bicarbonate():
    """AAP: newborns 0.5 mEq per mL only."""
    newborn = facts(child(5, 4, "days"), phases=since("arrest"))
    thick, thin = (check("sodium-bicarbonate", 4, "mEq", newborn, stock=Amount(each, "mEq/mL")) for each in (1, 0.5))

    assert ("wrong_stock" in codes(thick), "wrong_stock" in codes(thin)) == (True, False)
    assert thin.verdict == "within"
    older = facts(child(28, 4, "days"), phases=since("arrest"))
    assert "wrong_stock" not in codes(check("sodium-bicarbonate", 4, "mEq", older, stock=Amount(1, "mEq/mL")))


@BOTH
@pytest.mark.parametrize(
    ("phase", "floors"), [("transport", ("sbp", 80, 50)), ("pulse_back", ("map", 65, 90)), ("arrest", ("sbp", 80, 50))]
)
def test_a_pulse_that_is_back_wants_a_mean_of_65_whatever_bleeding_permits(phase, floors, rules):
    """After cardiac arrest: MAP of 65 and more, systolic 90."""
    known = facts(adult(bleeding_cause="trauma"), impression="hemorrhagic", phases=since(phase))
    goal = goal_for(known, rules)

    assert (goal.measure, goal.floor, goal.other_floor) == floors


@pytest.mark.parametrize(("phase", "treatment"), [("transport", PUSH), ("arrest", ARREST)])
def test_a_dose_told_by_its_name_is_that_of_the_phase(phase, treatment):
    told = treatment_told("epi", Amount(1, "mg"), "IV", RULES, phase)

    assert told is RULES.treatments[treatment]


@pytest.mark.parametrize(("bags", "reached"), [(0, True), (5, False)])
def test_calcium_for_the_blood_still_counts_by_the_bags(bags, reached):
    blood = tuple(given("blood-product", 60 - number, 1, "bag") for number in range(bags))
    known = facts(doses=(*blood, given("calcium-chloride", 30, 1, "g")))

    assert ("count_reached" in codes(check("calcium-chloride", 1, "g", known, indication="blood"))) is reached
