"""Worked examples of infusions, of sedatives at and below the goal, and of the conservative rules, through the API.

Pump rates by the dopamine prescribing information: mL/h = mcg/kg/min x kg x 60 / (mcg/mL).
"""

import pytest

from tests.api.conftest import ago, new_id, refused
from tests.api.worked import amount, bedside, check

AT_GOAL = {"sbp": 130, "dbp": 80}
SIZE = {"above_most": "order", "above_hard_limit": "hard"}
# Treatment, patient, dose, concentration, size, pump rate in mL/h.
INFUSIONS = [
    ("norepinephrine-infusion", "58 y 80 kg", "0.1 mcg/kg/min", "16 mcg/mL", "ok", 30),
    ("norepinephrine-infusion", "58 y 80 kg", "8 mcg/min", "32 mcg/mL", "ok", 15),
    ("norepinephrine-infusion", "58 y 80 kg", "30 mL/h", "64 mcg/mL", "ok", 30),
    ("norepinephrine-infusion", "58 y 80 kg", "0.51 mcg/kg/min", "64 mcg/mL", "order", 38.25),
    ("norepinephrine-infusion", "58 y 80 kg", "80 mcg/min", "64 mcg/mL", "order", 75),
    ("norepinephrine-infusion", "58 y 80 kg", "80.1 mcg/min", "64 mcg/mL", "hard", 75.09375),
    ("norepinephrine-infusion", "58 y ? kg", "30 mcg/min", "16 mcg/mL", "ok", 112.5),
    ("norepinephrine-infusion", "58 y ? kg", "31 mcg/min", "16 mcg/mL", "order", 116.25),
    ("norepinephrine-infusion", "5 y 18 kg", "1.1 mcg/kg/min", "16 mcg/mL", "hard", 74.25),
    ("epinephrine-infusion", "58 y 70 kg", "0.1 mcg/kg/min", "20 mcg/mL", "ok", 21),
    ("epinephrine-infusion", "58 y 70 kg", "2 mcg/kg/min", "40 mcg/mL", "order", 210),
    ("epinephrine-infusion", "58 y 70 kg", "2.1 mcg/kg/min", "40 mcg/mL", "hard", 220.5),
    ("epinephrine-infusion", "5 y 18 kg", "1 mcg/kg/min", "20 mcg/mL", "order", 54),
    ("epinephrine-infusion", "5 y 18 kg", "1.1 mcg/kg/min", "20 mcg/mL", "hard", 59.4),
    ("epinephrine-infusion", "58 y ? kg", "10 mcg/min", "4 mcg/mL", "ok", 150),
    ("epinephrine-infusion", "58 y ? kg", "11 mcg/min", "4 mcg/mL", "order", 165),
    ("dopamine-infusion", "58 y 70 kg", "5 mcg/kg/min", "1600 mcg/mL", "ok", 13.125),
    ("dopamine-infusion", "58 y 70 kg", "11 mcg/kg/min", "800 mcg/mL", "order", 57.75),
    ("dopamine-infusion", "58 y 150 kg", "20 mcg/kg/min", "3200 mcg/mL", "order", 56.25),
    ("dopamine-infusion", "58 y 200 kg", "20 mcg/kg/min", "3200 mcg/mL", "hard", 75),
    ("dopamine-infusion", "5 y 18 kg", "21 mcg/kg/min", "800 mcg/mL", "hard", 28.35),
    ("phenylephrine-infusion", "58 y 70 kg", "1.4 mcg/kg/min", "400 mcg/mL", "ok", 14.7),
    ("phenylephrine-infusion", "58 y 70 kg", "1.5 mcg/kg/min", "100 mcg/mL", "order", 63),
    ("phenylephrine-infusion", "58 y 70 kg", "6.1 mcg/kg/min", "400 mcg/mL", "hard", 64.05),
    ("vasopressin-infusion", "58 y 70 kg", "0.04 units/min", "0.2 units/mL", "ok", 12),
    ("vasopressin-infusion", "58 y 70 kg", "0.05 units/min", "1 units/mL", "order", 3),
    ("vasopressin-infusion", "58 y 70 kg", "0.08 units/min", "1 units/mL", "hard", 4.8),
    ("vasopressin-infusion", "5 y 18 kg", "0.002 units/kg/min", "0.1 units/mL", "ok", 21.6),
    ("vasopressin-infusion", "11 y 30 kg", "0.0015 units/kg/min", "0.1 units/mL", "hard", 27),
]
# EMS pain protocol: 1 mcg/kg, at most 100 mcg; midazolam 1-2 mg if the pressure is adequate, child 0.05 mg/kg (memory).
SEDATIVES = [
    ("fentanyl", "58 y 80 kg", "80 mcg", AT_GOAL, {"ok"}),
    ("fentanyl", "58 y 130 kg", "101 mcg", AT_GOAL, {"order"}),
    ("fentanyl", "58 y 80 kg", "201 mcg", AT_GOAL, {"hard"}),
    ("fentanyl", "5 y 18 kg", "36 mcg", AT_GOAL, {"order"}),
    ("fentanyl", "5 y 18 kg", "37 mcg", AT_GOAL, {"hard"}),
    ("fentanyl", "58 y 80 kg", "40 mcg", {}, {"by order"}),
    ("fentanyl", "58 y 80 kg", "41 mcg", {}, {"by order", "order"}),
    ("midazolam", "58 y 80 kg", "2 mg", AT_GOAL, {"ok"}),
    ("midazolam", "58 y 80 kg", "2.1 mg", AT_GOAL, {"order"}),
    ("midazolam", "58 y 80 kg", "5.1 mg", AT_GOAL, {"hard"}),
    ("midazolam", "5 y 18 kg", "0.9 mg", AT_GOAL, {"ok"}),
    ("midazolam", "5 y 18 kg", "1.9 mg", AT_GOAL, {"hard"}),
    ("midazolam", "58 y 80 kg", "1 mg", {}, {"by order"}),
    ("ketamine", "58 y 80 kg", "24 mg", AT_GOAL, {"ok"}),
    ("ketamine", "58 y 130 kg", "31 mg", AT_GOAL, {"order"}),
]


def sizes(found, **more):
    names = {**SIZE, **more}
    return {names[one["code"]] for one in found["findings"] if one["code"] in names} or {"ok"}


@pytest.mark.parametrize(("treatment", "who", "dose", "strength", "size", "rate"), INFUSIONS)
def test_pump_rates_and_limits_of_infusions(cast, open_case, treatment, who, dose, strength, size, rate):
    found = check(cast.crew, bedside(cast.crew, open_case, who), treatment, dose, concentration=strength)

    assert sizes(found) == {size}
    assert found["give"]["rate"]["unit"] == "mL/h"
    assert found["give"]["rate"]["value"] == pytest.approx(rate, abs=0.051)  # a pump runs in steps of 0.1 mL/h
    assert "starts_by_order" in {one["code"] for one in found["findings"]}


@pytest.mark.parametrize(("treatment", "who", "dose", "signs", "expected"), SEDATIVES)
def test_sedatives_with_a_pressure_that_is_fine_or_low(cast, open_case, treatment, who, dose, signs, expected):
    case = bedside(cast.crew, open_case, who, signs=signs)

    assert sizes(check(cast.crew, case, treatment, dose), pressure_low="by order") == expected


@pytest.mark.parametrize(
    ("who", "impression", "dose", "expected"),
    [
        ("5 y 18 kg", "septic", "180 mL", {"ok"}),
        ("5 y 18 kg", "septic", "181 mL", {"guide"}),
        ("5 y 18 kg", "septic", "360 mL", {"guide"}),
        ("5 y 18 kg", "septic", "361 mL", {"order"}),
        ("6 m 5 kg", "hemorrhagic", "101 mL", {"order"}),
        ("58 y 80 kg", "septic", "1000 mL", {"ok"}),
    ],
)
def test_boluses_under_the_conservative_rules(cast, open_case, who, impression, dose, expected):
    """20 mL/kg a bolus in steps of 10: Surviving Sepsis Campaign, children 2020; NICE CG84 as updated in 2022."""
    case = bedside(cast.crew, open_case, who, "conservative", impression=impression)
    found = check(cast.crew, case, "crystalloid-bolus", dose)

    assert sizes({"findings": found["findings"][:1]}, above_guide="guide") == expected


@pytest.mark.parametrize(("rules", "number"), [("demonstration", 5), ("conservative", 3)])
def test_pushes_before_an_order_however_late_they_are_entered(cast, open_case, rules, number):
    """More than 3 boluses: start an infusion (guidance on anaphylaxis in anesthesia); 5 are our choice."""
    case = bedside(cast.crew, open_case, "58 y 80 kg", rules)
    push = {"treatment": "epinephrine-push-dose", "amount": amount("10 mcg"), "route": "IV"}
    for given in range(number):
        found = check(cast.crew, case, "epinephrine-push-dose", "10 mcg")
        assert "count_reached" not in {one["code"] for one in found["findings"]}
        body = {"id": new_id(), "given_at": ago(minutes=4 + 2 * given), **push}
        assert cast.crew.post(f"cases/{case}/interventions/", body).status_code == 201
    found = check(cast.crew, case, "epinephrine-push-dose", "10 mcg")
    late = cast.crew.post(
        f"cases/{case}/interventions/", {"id": new_id(), "given_at": ago(minutes=4.5), **push}
    ).json()["check"]

    assert "count_reached" in {one["code"] for one in found["findings"]}
    by_its_place = {one["code"] for one in late["findings"]}  # one of those told before was given after it
    assert "too_soon" in by_its_place
    assert "count_reached" not in by_its_place


@pytest.mark.parametrize(
    ("changed", "status", "pointer"),
    [
        ({"treatment": "snake-oil"}, 422, "/treatment"),
        ({"amount": amount("10 mL")}, 422, "/amount"),
        ({"amount": amount("0.03 units/min"), "treatment": "epinephrine-push-dose"}, 422, "/amount"),
        ({"amount": amount("0.03 units/min"), "treatment": "vasopressin-infusion"}, 422, "/amount"),
        ({"amount": amount("30 mL/h"), "treatment": "norepinephrine-infusion"}, 422, "/concentration"),
        ({"amount": {"value": -1, "unit": "mcg"}}, 422, "/amount/value"),
        ({"amount": {"value": 1e300, "unit": "mcg"}}, 422, "/amount/value"),
        ({"amount": {"value": float("nan"), "unit": "mcg"}}, 400, None),
        ({"stock": {"value": 0, "unit": "mg/mL"}}, 422, "/stock/value"),
        ({"stock": {"value": 1, "unit": "units/mL"}}, 422, "/stock"),
        ({"at": "2001-01-05T10:00:00Z"}, 422, "/at"),
    ],
    ids=str,
)
def test_what_cannot_be_understood_is_told_where(cast, open_case, changed, status, pointer):
    case = bedside(cast.crew, open_case, "5 y 18 kg")
    proposal = {"treatment": "epinephrine-push-dose", "amount": amount("5 mcg"), "route": "IV", **changed}

    refused(cast.crew.post(f"cases/{case}/checks/", proposal), status, pointer=pointer)
