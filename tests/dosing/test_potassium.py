"""Succinylcholine where the potassium is high or will rise: never, whoever orders; rocuronium is there."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount, Order
from dosing.tell import guidance
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, adult, ago, check, child, facts, given

FINE = {"sbp": 120, "dbp": 80}
DAY = 24 * 60


def barred(known, treatment="succinylcholine", rules=RULES):
    """Whether it must not be given, whoever orders."""
    dose = {"succinylcholine": 120, "rocuronium": 90}[treatment]
    order = Order(id="1", treatment=treatment, amount=Amount(dose, "mg"), state="read_back")
    found = check(treatment, dose, "mg", known, order=order, stock=Amount(20, "mg/mL"), rules=rules).findings
    return any(each.code == "contraindicated" and each.level == "over_hard_limit" for each in found)


# Succinylcholine label, boxed warning and contraindications (from memory).
@pytest.mark.parametrize(
    ("treatment", "indication", "minutes", "stopped"),
    [
        ("calcium-chloride", "hyperkalemia", 10, True),
        ("calcium-gluconate", "hyperkalemia", 10, True),
        ("insulin", "potassium", 10, True),
        ("sodium-bicarbonate", "hyperkalemia", 10, True),
        ("calcium-chloride", "hyperkalemia", DAY + 1, False),
        ("calcium-chloride", "blood", 10, False),
        ("sodium-bicarbonate", "tricyclic", 10, False),
    ],
)
def test_not_where_high_potassium_was_treated(treatment, indication, minutes, stopped):
    assert indication in RULES.treatments[treatment].indications
    before = given(treatment, minutes, 1, "g", route="IV", indication=indication)

    assert barred(facts(doses=(before,), **FINE)) == stopped
    assert not barred(facts(doses=(before,), **FINE), "rocuronium")


@pytest.mark.parametrize(
    ("told", "stopped"),
    [
        *[
            ("Duchenne", True),
            ("muscular dystrophy", True),
            ("hyperkalemia", True),
            ("brother: Becker muscular dystrophy", True),
        ],
        *[
            ("high potassium", True),
            ("paraplegic", True),
            ("latex", False),
            ("low potassium", False),
            ("no known myopathy", False),
        ],
    ],
)
def test_not_with_a_muscle_disease_or_high_potassium_on_record(told, stopped):
    known = facts(adult(allergies=(told,)), **FINE)

    assert barred(known) == stopped
    assert not barred(known, "rocuronium")
    assert not any("not recognized" in each.text for each in check("ketamine", 20, "mg", known).findings) or not stopped


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
@pytest.mark.parametrize(
    ("injuries", "hours", "stopped"),
    [
        (("spinal_cord",), 72, True),
        (("spinal_cord", "limb"), 24, True),
        (("spinal_cord",), 1, False),
        (("spinal_cord",), None, False),
        (("limb",), 72, False),
        ((), 72, False),
    ],
)
def test_not_days_after_a_cord_injury(injuries, hours, stopped, rules):
    onset = None if hours is None else ago(hours * 60)
    for patient in (adult, child):
        assert barred(facts(patient(injuries=injuries, onset_at=onset), **FINE), rules=rules) == stopped


def test_of_a_cord_injury_it_is_asked_since_when_it_is():
    known = facts(adult(injuries=("spinal_cord",)), **FINE)
    rows = {row["treatment"]: row for row in guidance.guidance(known, RULES, TEN)}

    assert "since when" in rows["succinylcholine"]["findings"][0]["text"]
    assert rows["succinylcholine"]["by_order"]
    assert not rows["succinylcholine"]["held"]
