"""Amounts of the API as what reaches a body."""

from __future__ import annotations

import pytest

from consult.simulation import treat
from dosing.ground.facts import Amount
from tests.simulation.bodies import dry_adult, warm_adult


@pytest.mark.parametrize(
    ("amount", "unit", "strength", "expected"),
    [
        pytest.param(Amount(0.5, "mg"), "mcg", None, 500, id="mg as mcg"),
        pytest.param(Amount(1, "mcg/kg"), "mcg", None, 70, id="per kg times 70 kg"),
        pytest.param(Amount(0.1, "mcg/kg/min"), "mcg/min", None, 7, id="a rate per kg"),
        pytest.param(Amount(420, "mcg/h"), "mcg/min", None, 7, id="a rate per hour"),
        pytest.param(Amount(26.25, "mL/h"), "mcg/min", Amount(16, "mcg/mL"), 7, id="a pump rate with its strength"),
        pytest.param(Amount(0.25, "L"), "mL", None, 250, id="L as mL"),
    ],
)
def test_an_amount_in_another_unit(amount: Amount, unit: str, strength: Amount | None, expected: float) -> None:
    assert treat.in_unit(warm_adult(), amount, unit, strength) == pytest.approx(expected)


def test_the_same_dose_in_another_spelling_acts_the_same() -> None:
    one, other = warm_adult(), warm_adult()
    treat.give(one, "epinephrine-push-dose", Amount(10, "mcg"))
    treat.give(other, "epinephrine-push-dose", Amount(0.01, "mg"))
    one.advance(90)
    other.advance(90)

    assert one.map == pytest.approx(other.map)


def test_a_fluid_runs_in_over_its_time_and_stops_when_stopped() -> None:
    body = dry_adult()
    treat.give(body, "crystalloid-bolus", Amount(600, "mL"), over_min=10)
    body.advance(300)

    assert sum(pour.left_ml for pour in body.pours) == pytest.approx(300)

    treat.stop(body, "crystalloid-bolus")

    assert body.pours == []


def test_stopping_a_fluid_leaves_the_blood_running() -> None:
    body = dry_adult()
    treat.give(body, "crystalloid-bolus", Amount(600, "mL"), over_min=10)
    treat.give(body, "blood-product", Amount(1, "bag"))
    treat.stop(body, "crystalloid-bolus")

    assert [pour.blood for pour in body.pours] == [True]


def test_tranexamic_acid_slows_bleeding_and_does_not_end_it() -> None:
    body = dry_adult()
    body.bleeding_ml_min = 20
    treat.give(body, "tranexamic-acid", Amount(1, "g"))

    assert 10 < body.bleeding_ml_min < 20


def test_dextrose_raises_the_glucose() -> None:
    body = warm_adult()
    treat.give(body, "dextrose", Amount(25, "g"))

    assert body.glucose_mg_dl > 160


def test_what_the_model_does_not_know_changes_nothing() -> None:
    body, alone = warm_adult(), warm_adult()
    treat.give(body, "hydrocortisone", Amount(100, "mg"))
    treat.run(body, "hydrocortisone-infusion", Amount(1, "mg/h"))
    body.advance(300)
    alone.advance(300)

    assert body.map == alone.map
