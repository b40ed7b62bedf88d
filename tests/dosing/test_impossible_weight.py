"""From a weight that is almost impossible no amount is offered: weight or age is typed wrong."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Age, Patient, Weight
from tests.dosing.bedside import facts, told

FINE = {"sbp": 120, "dbp": 80, "signs": {"rr": 16, "glucose_mg_dl": 90}}


def of(years, kg, **more):
    weight = None if kg is None else Weight(kg, "kg", "stated")
    return facts(Patient(age=Age(years, "years"), weight=weight), **(FINE | more))


# WHO growth standards: implausible below -6 or above +5 z; no adult of NHANES outside 30-250 kg (as in growth.toml).
@pytest.mark.parametrize(
    ("treatment", "indication", "known", "offered"),
    [
        ("ketamine", "pain", of(6, 400), False),
        ("fentanyl", "pain", of(20, 13), False),  # 20 months typed as years
        ("midazolam", "sedation", of(20, 13), True),  # goes by no weight: a caution alone
        ("fentanyl", "pain", of(40, 260), False),
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
