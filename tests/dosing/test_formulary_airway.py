"""Intubation in shock, and fast or slow hearts: what is by order, what bars a drug, what follows it."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount
from dosing.patient.reassess import opened_by
from tests.dosing.bedside import CONSERVATIVE, RULES, adult, check, child, codes, facts, given, told

FINE = {"sbp": 125, "dbp": 80}
USUAL = {
    **{"etomidate": "24 mg", "rocuronium": "80 mg", "succinylcholine": "120 mg", "adenosine": "6 mg"},
    **{"diltiazem": "20 mg"},
}
BOTH = pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)


def dose(slug: str) -> tuple[str, float, str]:
    value, unit = USUAL[slug].split()
    return slug, float(value), unit


@BOTH
@pytest.mark.parametrize("slug", USUAL)
def test_each_dose_is_by_order_the_second_too(slug, rules):
    for doses in ((), (given(slug, 30, *dose(slug)[1:]),)):
        known = facts(doses=doses, signs={"hr": 180}, **FINE)
        assert "starts_by_order" in codes(check(*dose(slug), known, rules=rules))


@pytest.mark.parametrize("slug", USUAL)
def test_what_follows_is_looked_at_within_five_minutes(slug):
    asked = opened_by(given(slug, 0, *dose(slug)[1:]), RULES)

    assert "pressure" in (*asked.needs, *RULES.treatments[slug].reassessment.also)
    assert RULES.treatments[slug].reassessment.due_min <= 5


@pytest.mark.parametrize("slug", ["etomidate", "rocuronium", "succinylcholine"])
@pytest.mark.parametrize(("limits", "asked"), [("no_intubation", True), ("comfort", True), ("full", False)])
def test_care_limits_ask_before_the_drugs_of_an_airway(slug, limits, asked):
    known = facts(adult(care_limits=limits), **FINE)

    assert ("care_limits" in codes(check(*dose(slug), known))) is asked


@BOTH
@pytest.mark.parametrize("slug", ["etomidate", "ketamine"])
def test_in_shock_the_sedative_is_less_and_the_paralytic_is_not(slug, rules):
    """Airway summaries: etomidate 0.15-0.2, ketamine 0.5-1 mg/kg, the paralytic in full."""
    indication = "induction" if slug == "ketamine" else None
    well, shocked = (told(slug, facts(**each), rules, indication)["most"]["value"] for each in (FINE, LOW))

    assert shocked < well
    assert len({told("rocuronium", facts(**each), rules)["most"]["value"] for each in (FINE, LOW)}) == 1


LOW = {"sbp": 60, "dbp": 30}


@pytest.mark.parametrize(
    ("slug", "known", "barred"),
    [
        ("succinylcholine", facts(adult(history=("dialysis",)), **FINE), True),
        ("succinylcholine", facts(adult(history=("pacemaker",)), **FINE), False),
        ("rocuronium", facts(adult(history=("dialysis",)), **FINE), False),
        ("adenosine", facts(adult(history=("transplant",)), **FINE), True),
        ("adenosine", facts(adult(), **FINE), False),
        ("diltiazem", facts(**LOW), True),
        ("diltiazem", facts(impression="cardiogenic", **FINE), True),
        ("diltiazem", facts(impression="septic", **FINE), False),
    ],
)
def test_what_must_not_be_given_to_whom(slug, known, barred):
    """Prescribing information of each; a transplanted heart by a pediatric drug reference."""
    checked = check(*dose(slug), known)

    assert ("contraindicated" in codes(checked), checked.verdict == "over_hard_limit") == (barred, barred)


@pytest.mark.parametrize(("rate", "missing"), [(149, True), (150, False), (None, True)])
def test_adenosine_is_for_a_fast_heart(rate, missing):
    assert ("signs_missing" in codes(check("adenosine", 6, "mg", facts(signs={"hr": rate}, **FINE)))) is missing


def test_adenosine_six_twelve_twelve():
    doses = tuple(given("adenosine", 9 - 3 * place, each, "mg") for place, each in enumerate((6, 12, 12)))

    assert not codes(check("adenosine", 12, "mg", facts(doses=doses[:2]))) & {"total_reached", "count_reached"}
    assert {"total_reached", "count_reached"} <= codes(check("adenosine", 12, "mg", facts(doses=doses)))


def test_diltiazem_is_not_for_children():
    small = facts(child(), **FINE)

    assert told("diltiazem", small)["most"] is None
    assert "age_not_covered" in codes(check("diltiazem", 4, "mg", small))


@pytest.mark.parametrize(
    ("slug", "value", "unit", "concentration", "rate"),
    [
        ("epinephrine-infusion", 2, "mcg/min", (4, "mcg/mL"), 30),
        ("epinephrine-infusion", 10, "mcg/min", (4, "mcg/mL"), 150),
        ("epinephrine-infusion", 10, "mcg/min", (20, "mcg/mL"), 30),
        ("dopamine-infusion", 5, "mcg/kg/min", (1600, "mcg/mL"), 15),
    ],
)
def test_pump_rates_for_a_slow_heart(slug, value, unit, concentration, rate):
    """By hand: mcg a minute times 60 over the concentration; dopamine for 80 kg."""
    strength = Amount(*concentration)
    checked = check(slug, value, unit, facts(**FINE), indication="slow-heart", concentration=strength)

    assert checked.give.rate == Amount(rate, "mL/h")


@pytest.mark.parametrize("slug", ["epinephrine-infusion", "dopamine-infusion"])
def test_for_a_slow_heart_no_pressure_is_too_high_and_no_fluid_comes_first(slug):
    known = facts(sbp=150, dbp=90, doses=(), signs={"hr": 34})
    value = (5, "mcg/min") if slug.startswith("epi") else (5, "mcg/kg/min")
    of_shock, of_rate = (codes(check(slug, *value, known, indication=each)) for each in ("shock", "slow-heart"))
    held = {"no_fluid_yet", "well_above_goal", "pressure_above_goal"}

    assert (bool(of_shock & held), bool(of_rate & held)) == (True, False)


def test_an_inhibitor_of_monoamine_oxidase_limits_dopamine_for_a_slow_heart_too():
    """Dopamine label: a tenth."""
    known = facts(adult(history=("maoi",)), **FINE)

    assert told("dopamine-infusion", known, indication="slow-heart")["most"] == {"value": 1, "unit": "mcg/kg/min"}


# Intubation in shock, from a shock index of 0.9 on (two summaries, second-hand).
@pytest.mark.parametrize(
    ("treatment", "dose", "how"),
    [
        ("etomidate", (24, "mg"), {}),
        ("ketamine", (160, "mg"), {"indication": "induction", "stock": Amount(50, "mg/mL")}),
    ],
)
@pytest.mark.parametrize(
    ("patient", "systolic", "rate", "told"),
    [
        (adult(), 100, 130, "shock index 1.3: half the dose"),
        (adult(), 100, 90, "shock index 0.9: half the dose"),
        (adult(), 120, 100, ""),
        (adult(), 120, None, ""),
        (child(), 100, 130, ""),  # a child's heart is faster
    ],
)
def test_a_hidden_shock_halves_the_dose_of_an_induction(treatment, dose, how, patient, systolic, rate, told):
    known = facts(patient, sbp=systolic, dbp=70, signs={"hr": rate})
    found = [each.text for each in check(treatment, *dose, known, **how).findings if "shock index" in each.text]

    assert bool(found) == bool(told)
    assert told in (found or [""])[0]
