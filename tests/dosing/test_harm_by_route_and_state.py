"""Doses that would harm by the way or the state they are given in; each beside two neighbors that must stay allowed."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount
from tests.dosing.bedside import adult, check, child, codes, facts, told

SPRAY = Amount(40, "mg/mL")
KETAMINE = Amount(50, "mg/mL")
AWAKE = {"rr": 16, "gcs": 15}


@pytest.mark.parametrize(
    ("patient", "dose", "route", "by_order"),
    [
        # Newborn resuscitation: no naloxone at birth, ventilate (from memory); a spray is 1.3 mg/kg at 3 kg
        (child(0, 3, "days"), (4, "mg"), "IN", True),
        (child(27, 3.8, "days"), (0.3, "mg"), "IV", True),
        (child(28, 4, "days"), (4, "mg"), "IN", False),
        (child(2, 12), (4, "mg"), "IN", False),
        (adult(), (4, "mg"), "IN", False),
    ],
)
def test_a_newborn_gets_naloxone_by_order_alone(patient, dose, route, by_order):
    stock = SPRAY if route == "IN" else None
    checked = check("naloxone", *dose, facts(patient, signs={"rr": 12}), route=route, stock=stock)

    assert (checked.verdict == "needs_order") == by_order
    assert ("starts_by_order" in codes(checked)) == by_order
    assert [each.text for each in checked.findings if each.code == "starts_by_order"] == [
        "not recommended for a newborn at birth: ventilate first"
    ] * by_order


@pytest.mark.parametrize(
    ("route", "sbp", "least", "most"),
    [
        # 0.5-0.75 mg/kg, at most 50 mg, into the nose (Andolfatto 2013, from memory); 0.1-0.3 mg/kg into a vein
        ("IN", 84, 40, 50),
        ("IN", 130, 40, 50),
        ("IM", 84, 8, 40),
        ("IV", 130, 8, 24),
        ("IV", 84, 8, 16),
    ],
)
def test_a_low_pressure_makes_a_vein_dose_of_ketamine_of_no_other(route, sbp, least, most):
    known = facts(sbp=sbp, dbp=50 if sbp < 90 else 80, signs=AWAKE)
    row = told("ketamine", known, route=route)
    how = {"route": route, "stock": KETAMINE}

    assert (row["least"]["value"], row["most"]["value"]) == (least, most)
    assert check("ketamine", most, "mg", known, **how).verdict == ("caution" if sbp < 90 else "within")
    assert "above_most" in codes(check("ketamine", most + 1, "mg", known, **how))
