"""Doses that would harm, each beside two neighbors that may be given: the rule must tell them apart."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount
from tests.dosing.bedside import adult, check, facts, given

OVER, BY_ORDER, CAUTION = "over_hard_limit", "needs_order", "caution"
NOREPINEPHRINE = ("norepinephrine-infusion", 0.1, "mcg/kg/min")
BAG = Amount(16, "mcg/mL")


def level(code, checked):
    """How grave the finding of a code is; empty where there is none."""
    return next((each.level for each in checked.findings if each.code == code), "")


def runs(treatment, value, unit, **more):
    return facts(doses=(given(treatment, 20, value, unit, status="running", **more),))


@pytest.mark.parametrize(
    ("known", "new_rate", "grave"),
    [
        (runs("norepinephrine-infusion", 8, "mcg/min"), False, BY_ORDER),
        (runs("norepinephrine-infusion", 8, "mcg/min"), True, ""),
        (runs("epinephrine-infusion", 8, "mcg/min"), False, ""),
        (facts(), False, ""),
    ],
)
def test_a_second_infusion_of_what_runs_needs_an_order_and_a_new_rate_none(known, new_rate, grave):
    checked = check(*NOREPINEPHRINE, known, concentration=BAG, new_rate=new_rate)

    assert level("infusion_running", checked) == grave
    assert (level("starts_by_order", checked) == "") is new_rate


@pytest.mark.parametrize(
    ("treatment", "dose", "glucose", "grave"),
    [
        ("insulin-infusion", (0.1, "units/kg/h"), 40, OVER),
        ("insulin-infusion", (0.1, "units/kg/h"), 69, OVER),
        ("insulin-infusion", (0.1, "units/kg/h"), 70, CAUTION),
        ("insulin-infusion", (0.1, "units/kg/h"), 350, ""),
        ("insulin-infusion", (0.1, "units/kg/h"), None, BY_ORDER),
        ("insulin-high-dose", (2, "units/kg/h"), 40, OVER),
        ("insulin-high-dose", (2, "units/kg/h"), 120, ""),
        ("insulin", (5, "units"), 40, BY_ORDER),
        ("insulin", (5, "units"), 120, CAUTION),
        ("insulin", (5, "units"), 300, ""),
    ],
)
def test_no_insulin_for_a_low_glucose(treatment, dose, glucose, grave):
    assert level("signs_missing", check(treatment, *dose, facts(signs={"glucose_mg_dl": glucose}))) == grave


@pytest.mark.parametrize(("flag", "grave"), [("low", OVER), ("high", ""), (None, BY_ORDER)])
def test_what_a_glucose_meter_says_without_a_number_counts(flag, grave):
    known = facts(signs={"glucose_mg_dl": None, "glucose_flag": flag})

    assert level("signs_missing", check("insulin-infusion", 0.1, "units/kg/h", known)) == grave


@pytest.mark.parametrize(
    ("signs", "grave"),
    [
        ({"rr": 8, "sbp": 160}, BY_ORDER),
        ({"rr": 16, "sbp": 70}, BY_ORDER),
        ({"rr": 16, "sbp": 120}, CAUTION),
        ({"rr": 16, "sbp": 160}, ""),
        ({"rr": None, "sbp": 160}, CAUTION),
    ],
)
def test_magnesium_for_slow_breathing_or_a_low_pressure_needs_an_order(signs, grave):
    checked = check("magnesium-sulfate", 4, "g", facts(adult(), signs=signs), stock=Amount(40, "mg/mL"))

    assert level("signs_missing", checked) == grave


@pytest.mark.parametrize(
    ("strength", "route", "grave"), [(500, "IV", OVER), (500, "IO", OVER), (500, "IM", ""), (40, "IV", "")]
)
def test_magnesium_goes_undiluted_into_no_vein(strength, route, grave):
    checked = check("magnesium-sulfate", 4, "g", facts(), route=route, stock=Amount(strength, "mg/mL"))

    assert level("wrong_stock", checked) == grave
