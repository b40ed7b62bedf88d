"""What is given faster than the rules leave needs an order for just that; what was given slowly is as it was."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount, Container, Order
from dosing.ground.phases import PhaseChange
from dosing.tell import guidance
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, adult, ago, check, child, facts, told

GOOD = {"sbp": 165, "dbp": 110}
SIGNS = {"hr": 170, "rr": 16, "glucose_mg_dl": 100}
MOTHER = adult(sex="female", pregnancy_weeks=36, onset_at=ago(20), bleeding_cause="postpartum")
ARREST = (PhaseChange(id="arrest", phase="arrest", at=ago(5)),)


def grave(checked, code="too_fast"):
    return next((each.level for each in checked.findings if each.code == code), "")


# Magnesium 15 min (ambulance handbook, read), tranexamic acid 10 min (CRASH-2, read), calcium 5 min and oxytocin 30 min
# (from memory and chosen), amiodarone with a pulse 10 min (label, read), in a child 20 min (AAP, read).
@pytest.mark.parametrize(
    ("treatment", "indication", "dose", "strength", "minutes", "patient", "stopped"),
    [
        ("magnesium-sulfate", "eclampsia", (4, "g"), "40 mg/mL", 1, MOTHER, True),
        ("magnesium-sulfate", "eclampsia", (4, "g"), "40 mg/mL", 15, MOTHER, False),
        ("magnesium-sulfate", "eclampsia", (4, "g"), "40 mg/mL", None, MOTHER, False),
        ("magnesium-sulfate", "torsades", (2, "g"), "40 mg/mL", 10, adult(), False),  # 5-60 min: life support (memory)
        ("magnesium-sulfate", "torsades", (2, "g"), "40 mg/mL", 5, adult(), False),
        ("magnesium-sulfate", "torsades", (2, "g"), "40 mg/mL", 2, adult(), True),
        ("tranexamic-acid", None, (1, "g"), "100 mg/mL", 1, MOTHER, True),
        ("tranexamic-acid", None, (1, "g"), "100 mg/mL", 10, MOTHER, False),
        ("calcium-chloride", None, (1, "g"), "100 mg/mL", 1, MOTHER, True),
        ("calcium-chloride", None, (1, "g"), "100 mg/mL", 5, MOTHER, False),
        ("oxytocin", None, (10, "units"), "10 units/mL", 1, MOTHER, True),
        ("oxytocin", None, (10, "units"), "10 units/mL", 30, MOTHER, False),
        ("amiodarone", "tachycardia", (150, "mg"), "1.5 mg/mL", 5, adult(), True),
        ("amiodarone", "tachycardia", (150, "mg"), "1.5 mg/mL", 10, adult(), False),
        ("amiodarone", "tachycardia", (90, "mg"), "1.5 mg/mL", 15, child(), True),
        ("amiodarone", "tachycardia", (90, "mg"), "1.5 mg/mL", 20, child(), False),
    ],
)
def test_too_fast_needs_an_order(treatment, indication, dose, strength, minutes, patient, stopped):
    number, unit = strength.split()
    how = {"indication": indication, "over_min": minutes, "stock": Amount(float(number), unit)}
    checked = check(treatment, *dose, facts(patient, signs=SIGNS, **GOOD), route="IV", **how)

    assert grave(checked) == ("needs_order" if stopped else "")


def test_in_arrest_magnesium_is_pushed():
    how = {"indication": "torsades", "over_min": 1, "stock": Amount(500, "mg/mL")}

    assert not grave(check("magnesium-sulfate", 2, "g", facts(phases=ARREST, **GOOD), **how))


@pytest.mark.parametrize(
    ("ordered", "minutes", "level"),
    [(10, 10, ""), (5, 5, "caution"), (5, 6, "caution"), (5, 1, "needs_order"), (None, 5, "needs_order")],
)
def test_an_order_lets_it_be_as_fast_as_it_says(ordered, minutes, level):
    order = Order(id="1", treatment="tranexamic-acid", amount=Amount(1, "g"), state="read_back", over_min=ordered)
    known = facts(MOTHER, **GOOD)

    assert grave(check("tranexamic-acid", 1, "g", known, order=order, over_min=minutes)) == level


# ---- amiodarone with a pulse: 150 mg in 100 mL of dextrose 5 % (label, read), as magnesium of 50 % is diluted


@pytest.mark.parametrize(
    ("indication", "phases", "strength", "barred"),
    [
        ("tachycardia", (), 50, True),
        ("tachycardia", (), 1.5, False),
        ("arrest", ARREST, 50, False),
        ("tachycardia", (PhaseChange(id="back", phase="pulse_back", at=ago(5)),), 50, True),
    ],
)
def test_amiodarone_is_diluted_for_a_heart_that_beats(indication, phases, strength, barred):
    known = facts(phases=phases, signs=SIGNS, **GOOD)
    checked = check("amiodarone", 150, "mg", known, indication=indication, stock=Amount(strength, "mg/mL"))

    assert (grave(checked, "wrong_stock") == "over_hard_limit") == barred


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_a_vial_is_not_offered_undiluted(rules):
    """Of the vial in hand nothing is offered either, nor is it passed when nobody says the strength."""
    known = facts(signs=SIGNS, **GOOD)
    vial = Container(id="v", form="syringe", at=ago(5), treatment="amiodarone", strength=Amount(50, "mg/mL"))
    for each in (known, facts(signs=SIGNS, containers=(vial,), **GOOD)):
        offered = told("amiodarone", each, rules, "tachycardia")["usual"]
        strengths = {one["strength"]["value"] for amount in offered for one in amount["volumes"]}
        assert strengths == {1.5}
    held = facts(signs=SIGNS, containers=(vial,), **GOOD)

    assert grave(check("amiodarone", 150, "mg", held, indication="tachycardia"), "wrong_stock") == "over_hard_limit"
    assert not grave(check("amiodarone", 150, "mg", known, indication="tachycardia"), "wrong_stock")


def test_how_slowly_is_told_before():
    rows = {row["treatment"]: row for row in guidance.guidance(facts(signs=SIGNS, **GOOD), RULES, TEN)}
    (row,) = (each for each in rows["amiodarone"]["indications"] if each["indication"] == "tachycardia")

    assert row["shortest"] == {"value": 10, "unit": "min"}


# Furosemide label: high doses no faster than 4 mg/min, 80 mg over 1-2 min (from memory); 160 mg take 40 min.
@pytest.mark.parametrize(
    ("milligrams", "minutes", "route", "shortest"),
    [(160, 1, "IV", 40), (160, 39, "IV", 40), (160, 40, "IV", None), (81, 2, "IV", 20.25), (80, 2, "IV", None)],
)
def test_a_large_dose_of_furosemide_goes_in_slowly(milligrams, minutes, route, shortest):
    known = facts(adult(), impression="cardiogenic", **GOOD)
    found = check("furosemide", milligrams, "mg", known, route=route, over_min=minutes).findings
    told = [each.limit for each in found if each.code == "too_fast"]

    assert told == ([] if shortest is None else [Amount(shortest, "min")])
    assert all(each.level == "needs_order" for each in found if each.code == "too_fast")


@pytest.mark.parametrize(("milligrams", "shown"), [(160, 40), (80, 1), (40, 1)])
def test_how_long_a_large_dose_takes_is_told_with_it(milligrams, shown):
    assert check("furosemide", milligrams, "mg", facts(adult(), **GOOD), route="IV").give.shortest_min == shown
