"""A new rate held against the order that lets a crew step it up: up to its most, no sooner, by no more than a step.

Norepinephrine is stepped up to a MAP of 65 mmHg by the sepsis guideline (Surviving Sepsis Campaign 2021); the steps are
common practice, no source. For 80 kg 0.05 mcg/kg/min are 4 mcg/min, of 16 mcg per mL 15 mL/h.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground.facts import Amount, Dose, Order, Rate, Weight
from dosing.ground.titration import PressureFloor, Titration
from tests.dosing.bedside import TEN, adult, ago, check, facts

DRIP = "norepinephrine-infusion"
BAG = Amount(16, "mcg/mL")
ADA = Weight(80, "kg", "measured")
ORDER, CAUTION = "needs_order", "caution"


def per_kg(value: float) -> Amount:
    return Amount(value, "mcg/kg/min")


STEPS = Titration(step=per_kg(0.05), every_min=3, most=per_kg(0.2), goal=PressureFloor("map", 65))


def order(titrate: Titration | None = STEPS, **more: Any) -> Order:
    told = {"amount": per_kg(0.05), "concentration": BAG, "given": 1, "by": "Dr. Merrin", "intervention": "drip"}
    named = {"id": "order", "treatment": DRIP, "state": "read_back", "route": "IV", "action": "start"}
    return Order(**{**named, **told, "titrate": titrate, **more})


def runs(*rates: tuple[float, Amount | None], weight: Weight | None = ADA, **more: Any) -> Dose:
    """Its rates, each with how many minutes ago it was set; a rate of None is a pause."""
    told = tuple(Rate(ago(minutes), amount, weight) for minutes, amount in rates)
    last = next(rate.amount for rate in reversed(told) if rate.amount)
    named = {"id": "drip", "treatment": DRIP, "given_at": told[0].at, "amount": last, "status": "running"}
    return Dose(**{**named, "route": "IV", "concentration": BAG, "weight": weight, "rates": told, **more})


def found(rate: Amount, dose: Dose, of: Order, patient: Any = None, **more: Any) -> dict[str, str]:
    """What a new rate passes, by code with its level; the drug, strength and pressure are fine."""
    known = facts(patient or adult(80), doses=(dose,))
    checked = check(DRIP, rate.value, rate.unit, known, concentration=BAG, order=of, **{"new_rate": True, **more})
    return {each.code: each.level for each in checked.findings}


@pytest.mark.parametrize(
    ("minutes", "rate", "passed"),
    [
        (3, per_kg(0.1), {}),
        (2.74, per_kg(0.1), {"too_soon": ORDER}),
        (2.75, per_kg(0.1), {}),  # 15 s of grace
        (3, Amount(8, "mcg/min"), {}),  # the same rate
        (3, Amount(30, "mL/h"), {}),
        (3, per_kg(0.101), {"above_guide": CAUTION}),  # more than a step
        (3, Amount(8.1, "mcg/min"), {"above_guide": CAUTION}),
        (2, per_kg(0.15), {"too_soon": ORDER, "above_guide": CAUTION}),
        (3, per_kg(0.2), {"above_guide": CAUTION}),
        (3, per_kg(0.201), {"above_most": ORDER, "above_guide": CAUTION}),
        (3, Amount(60.3, "mL/h"), {"above_most": ORDER, "above_guide": CAUTION}),
        (1, per_kg(0.05), {}),  # what runs
        (1, per_kg(0.04), {}),  # down at any time
    ],
)
def test_a_new_rate_by_the_order(minutes: float, rate: Amount, passed: dict[str, str]):
    of_order = found(rate, runs((minutes, per_kg(0.05))), order())

    assert {code: of_order[code] for code in ("too_soon", "above_guide", "above_most") if code in of_order} == passed


@pytest.mark.parametrize(
    ("rates", "rate", "passed"),
    [
        (((20, per_kg(0.05)), (4, per_kg(0.1))), per_kg(0.15), set()),  # a step above the last rate
        (((20, per_kg(0.05)), (4, per_kg(0.1))), per_kg(0.16), {"above_guide"}),
        (((20, per_kg(0.05)), (2, per_kg(0.1))), per_kg(0.15), {"too_soon"}),
        (((20, per_kg(0.1)), (4, None)), per_kg(0.15), set()),  # before the pause
        (((20, per_kg(0.1)), (2, None)), per_kg(0.15), {"too_soon"}),  # a pause counts as a rate
        (((20, per_kg(0.1)), (2, None)), per_kg(0.1), set()),
        (((20, Amount(15, "mL/h")),), per_kg(0.1), set()),  # told as the pump shows it
        (((20, Amount(15, "mL/h")),), per_kg(0.11), {"above_guide"}),
    ],
)
def test_it_rises_from_the_rate_that_is_in_force(rates: Any, rate: Amount, passed: set[str]):
    assert found(rate, runs(*rates), order()).keys() & {"too_soon", "above_guide"} == passed


def test_a_rate_told_for_later_is_not_in_force_yet():
    known = runs((20, per_kg(0.05)), (-1, per_kg(0.1)), amount=per_kg(0.05))

    assert "above_guide" in found(per_kg(0.15), known, order())


@pytest.mark.parametrize(("given", "rate", "soon"), [(0, 0.1, False), (0, 0.11, True), (1, 0.1, True)])
def test_the_rate_that_was_ordered_first_is_no_step(given: int, rate: float, soon: bool):
    """Ordered at 0.1 while 0.05 ran: that may be set at once, and counts as a step from then on."""
    known = runs((1, per_kg(0.05)))

    assert ("too_soon" in found(per_kg(rate), known, order(amount=per_kg(0.1), given=given))) == soon


def test_what_ran_was_set_for_another_weight():
    """0.1 for 40 kg are 4 mcg/min, which are 0.05 for 80 kg."""
    known = runs((3, per_kg(0.1)), weight=Weight(40, "kg", "stated"))

    assert "above_guide" not in found(per_kg(0.1), known, order())
    assert "above_guide" in found(per_kg(0.11), known, order())


@pytest.mark.parametrize(
    ("of", "more"),
    [
        (order(state="approved"), {}),
        (order(titrate=None), {}),
        (order(), {"new_rate": False}),
        (order(intervention="another"), {}),
    ],
    ids=["not read back", "without steps", "no new rate", "of another infusion"],
)
def test_only_a_new_rate_of_the_orders_own_infusion_is_held_against_its_steps(of: Order, more: dict[str, Any]):
    known = facts(adult(80), doses=(runs((1, per_kg(0.05))),))
    checked = check(DRIP, 0.15, "mcg/kg/min", known, concentration=BAG, order=of, **{"new_rate": True, **more})

    assert not [each for each in checked.findings if "a step" in each.text or "after the last rate" in each.text]


def test_what_it_says_and_by_whom_it_was_ordered():
    known = facts(adult(80), doses=(runs((1, per_kg(0.05))),))
    checked = check(DRIP, 0.25, "mcg/kg/min", known, concentration=BAG, order=order(), new_rate=True)
    told = {each.code: (each.text, each.limit, each.source) for each in checked.findings}

    assert told["above_most"] == (
        "0.25 mcg/kg/min is above the maximum ordered by Dr. Merrin: 0.2 mcg/kg/min",
        per_kg(0.2),
        "order by Dr. Merrin",
    )
    assert told["too_soon"] == (
        "ordered by Dr. Merrin no sooner than 3 min after the last rate",
        Amount(3, "min"),
        "order by Dr. Merrin",
    )
    assert told["above_guide"] == (
        "ordered by Dr. Merrin to go up by 0.05 mcg/kg/min a step",
        per_kg(0.05),
        "order by Dr. Merrin",
    )
    unnamed = check(DRIP, 0.25, "mcg/kg/min", known, concentration=BAG, order=order(by=""), new_rate=True)
    assert "ordered by the physician" in next(each.text for each in unnamed.findings if each.code == "above_most")


@pytest.mark.parametrize(("given", "rate", "covered"), [(1, 0.1, True), (9, 0.2, True), (9, 0.21, False)])
def test_the_order_covers_every_rate_up_to_its_most(given: int, rate: float, covered: bool):
    """That a pressor is started by order is told as ordered, however many rates were set before."""
    levels = found(per_kg(rate), runs((9, per_kg(0.1))), order(given=given))

    assert ("needs_order" not in levels.values()) == covered


@pytest.mark.parametrize(
    ("rates", "rate", "minutes"),
    [
        (((3, per_kg(0.05)),), 0.1, 3),
        (((2, per_kg(0.05)),), 0.1, 1),  # too soon: three minutes after the last rate
        (((9, per_kg(0.05)), (1, None)), 0.1, 2),
        (((2, per_kg(0.05)),), 0.04, 3),
    ],
    ids=["from this rate on", "from the last rate on", "from the pause on", "down"],
)
def test_when_the_next_step_may_be_set(rates: Any, rate: float, minutes: float):
    known = facts(adult(80), doses=(runs(*rates),))
    checked = check(DRIP, rate, "mcg/kg/min", known, concentration=BAG, order=order(), new_rate=True)

    assert checked.next_at == ago(-minutes)


def test_without_a_weight_rates_per_kg_are_held_against_each_other():
    known = runs((2, per_kg(0.05)), weight=None)
    levels = found(per_kg(0.21), known, order(), adult(None))

    assert {"too_soon", "above_guide", "above_most"} <= levels.keys()
    assert "above_guide" not in found(per_kg(0.1), known, order(), adult(None))
    assert known.rates[0].at < TEN


@pytest.mark.parametrize(
    ("rate", "asked"),
    [(per_kg(0.15), True), (per_kg(0.1), True), (per_kg(0.05), False), (Amount(15, "mL/h"), False)],
)
def test_a_lower_rate_waits_for_no_pressure(rate: Amount, asked: bool):
    """The newest pressure is as old as the rate that runs; less of a pressor needs no reading: our choice."""
    codes = found(rate, runs((9, per_kg(0.05)), (1, per_kg(0.1))), order())

    assert ("no_pressure_since_last_dose" in codes) == asked
