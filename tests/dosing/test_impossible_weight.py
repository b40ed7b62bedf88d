"""From a weight that hardly any child has no amount is offered: weight or age is typed wrong."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Age, Patient, Weight
from tests.dosing.bedside import check, facts, given, told

FINE = {"sbp": 120, "dbp": 80, "signs": {"rr": 16, "glucose_mg_dl": 90}}


def of(years, kg, sex="unknown", **more):
    weight = None if kg is None else Weight(kg, "kg", "stated")
    return facts(Patient(age=Age(years, "years"), weight=weight, sex=sex), **(FINE | more))


# WHO growth standards: implausible below -6 or above +5 z; no adult of NHANES outside 30-250 kg (as in growth.toml).
@pytest.mark.parametrize(
    ("treatment", "indication", "known", "offered"),
    [
        ("ketamine", "pain", of(6, 400), False),
        ("fentanyl", "pain", of(20, 13), True),  # 20 months typed as years: by 13 kg, whatever the age
        ("midazolam", "sedation", of(20, 13), True),  # goes by no weight: a caution alone
        ("fentanyl", "pain", of(40, 260), True),  # an adult's doses have ceilings
        ("crystalloid-bolus", None, of(58, 20.5, sbp=80, dbp=40), True),
        ("fentanyl", "pain", of(6, 4), True),  # less by far than the child needs: told
        ("midazolam", "sedation", of(40, 260), True),  # goes by no weight
        ("ketamine", "pain", of(6, 20), True),
        ("fentanyl", "pain", of(40, 249), True),
        ("fentanyl", "pain", of(40, 30), True),
        ("epinephrine-im", None, of(20, 13, impression="anaphylactic"), True),  # nothing holds it back
    ],
)
def test_no_amount_follows_from_an_impossible_weight(treatment, indication, known, offered):
    row = told(treatment, known, indication=indication)

    assert (row["most"] is not None) == bool(row["usual"]) == offered
    said = any("check weight and age" in each["text"] for each in row["findings"])
    assert said or offered


# A pharmacist's cases: a boy of 60 kg at 5 years. A seizure, anaphylaxis wait for nobody.
@pytest.mark.parametrize(
    ("treatment", "indication", "dose", "route", "known", "level"),
    [
        ("fentanyl", "pain", (60, "mcg"), "IV", of(5, 60, sex="male"), "needs_order"),
        ("midazolam", "sedation", (6, "mg"), "IM", of(5, 60, sex="male"), "needs_order"),
        ("midazolam", "seizure", (6, "mg"), "IM", of(5, 60, sex="male"), "caution"),
        ("epinephrine-im", None, (0.3, "mg"), "IM", of(5, 60, sex="male", impression="anaphylactic"), "caution"),
        ("epinephrine-im", None, (0.3, "mg"), "IM", of(5, 60, sex="male"), "caution"),  # anaphylaxis, not told as such
        ("fentanyl", "pain", (18, "mcg"), "IV", of(5, 18), ""),
        ("fentanyl", "pain", (20, "mcg"), "IV", of(58, 20.5), "caution"),
        ("fentanyl", "pain", (30, "mcg"), "IV", of(5, 30), ""),
    ],
)
def test_a_dose_by_an_impossible_weight_needs_an_order(treatment, indication, dose, route, known, level):
    found = check(treatment, *dose, known, indication=indication, route=route).findings

    assert [each.level for each in found if each.code == "weight_unlikely"] == ([level] if level else [])


@pytest.mark.parametrize(("rate", "level"), [(0.05, "caution"), (0.2, "needs_order")])
def test_less_of_what_runs_by_an_impossible_weight_is_not_held_back(rate, level):
    known = of(5, 60, sex="male", doses=(given("norepinephrine-infusion", 30, 0.1, "mcg/kg/min", status="running"),))
    found = check("norepinephrine-infusion", rate, "mcg/kg/min", known, new_rate=True).findings

    assert [each.level for each in found if each.code == "weight_unlikely"] == [level]
