"""Where an order that lets a crew step a rate up stands, and the order in words.

For 80 kg 0.05 mcg/kg/min are 4 mcg/min, of 16 mcg per mL 15 mL/h (dopamine prescribing information: mL/h = mcg/kg/min
x kg x 60 / (mcg/mL)). The steps are common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground.facts import Amount, Dose, Order, Rate, Weight
from dosing.ground.titration import PressureFloor, Titration
from dosing.tell import set_for
from dosing.tell.titration import differences, stands, told
from tests.copying import replace
from tests.dosing.cast import at

BAG = Amount(16, "mcg/mL")
ADA = Weight(80, "kg", "measured")


def per_kg(value: float) -> Amount:
    return Amount(value, "mcg/kg/min")


STEPS = Titration(step=per_kg(0.05), every_min=3, most=per_kg(0.2), goal=PressureFloor("map", 65))


def order(titrate: Titration | None = STEPS, **more: Any) -> Order:
    named = {"id": "order", "treatment": "norepinephrine-infusion", "state": "read_back", "amount": per_kg(0.05)}
    return Order(**{**named, "action": "start", "given": 1, "titrate": titrate, **more})


def drip(*rates: Amount | None, weight: Weight | None = ADA, **more: Any) -> Dose:
    """Its rates, set at ten o'clock and each minute after; None is a pause."""
    told_at = tuple(Rate(at(minute), rate, weight) for minute, rate in enumerate(rates))
    named = {"id": "drip", "treatment": "norepinephrine-infusion", "given_at": at(0), "status": "running"}
    return Dose(**{**named, "rates": told_at, "concentration": BAG, **more})


def where(dose: Dose, of: Order | None = None, pressure: float | None = 60, weight: Weight | None = ADA) -> Any:
    return stands(of or order(), dose, pressure, weight, 15)


@pytest.mark.parametrize(
    ("rates", "following", "pump"),
    [
        ((0.05,), 0.1, 30),
        ((0.05, 0.1), 0.15, 45),
        ((0.17,), 0.2, 60),  # no more than the most
        ((0.2,), None, None),
        ((0.21,), None, None),
    ],
)
def test_the_next_rate_is_a_step_above_and_no_more_than_the_most(
    rates: tuple[float, ...], following: float | None, pump: float | None
):
    found = where(drip(*map(per_kg, rates)))

    assert (found.now, found.next) == (per_kg(rates[-1]), None if following is None else per_kg(following))
    assert found.now_pump == Amount(round(rates[-1] * 300), "mL/h")
    assert found.next_pump == (None if pump is None else Amount(pump, "mL/h"))
    assert found.next_at == (None if following is None else at(len(rates) + 2))
    assert (found.order, found.intervention, found.held, found.at_most) == ("order", "drip", False, following is None)


@pytest.mark.parametrize(
    ("action", "given", "following", "when"),
    [("start", 0, 0.1, 3), ("change", 0, 0.08, None), ("change", 1, 0.1, 3)],
)
def test_a_change_that_is_not_set_yet_begins_with_the_rate_that_was_ordered(
    action: str, given: int, following: float, when: float | None
):
    found = where(drip(per_kg(0.05)), order(action=action, given=given, amount=per_kg(0.08)))

    assert (found.next, found.next_at) == (per_kg(following), None if when is None else at(when))


def test_while_it_is_held_no_step_is_next():
    found = where(drip(per_kg(0.05), None, status="held"))

    assert (found.now, found.next, found.next_pump, found.next_at, found.held) == (per_kg(0.05), None, None, None, True)


def test_a_pause_counts_as_a_rate():
    assert where(drip(per_kg(0.05), None)).next_at == at(4)


@pytest.mark.parametrize(("rate", "call"), [(0.14, False), (0.15, True), (0.2, True)])
def test_from_a_rate_on_the_crew_calls_first(rate: float, call: bool):
    assert where(drip(per_kg(rate)), order(replace(STEPS, call_at=per_kg(0.15)))).call is call
    assert where(drip(per_kg(rate))).call is False


@pytest.mark.parametrize(
    ("pressure", "at_goal", "well_above"),
    [(None, False, None), (64.99, False, None), (65, True, None), (79.99, True, None), (80, True, 15), (85, True, 20)],
)
def test_the_newest_pressure_says_whether_to_go_on(pressure: float | None, at_goal: bool, well_above: float | None):
    found = where(drip(per_kg(0.05)), pressure=pressure)

    assert (found.at_goal, found.well_above_by) == (at_goal, well_above)


@pytest.mark.parametrize(
    ("rate", "titrate"),
    [
        (Amount(4, "mcg/min"), STEPS),
        (Amount(15, "mL/h"), STEPS),
        (per_kg(0.05), replace(STEPS, most=Amount(16, "mcg/min"))),
        (per_kg(0.05), replace(STEPS, most=Amount(60, "mL/h"), call_at=Amount(12, "mcg/min"))),
    ],
)
def test_it_is_told_in_the_unit_of_its_step(rate: Amount, titrate: Titration):
    found = where(drip(rate), order(titrate))

    assert (found.now, found.next, found.next_pump) == (per_kg(0.05), per_kg(0.1), Amount(30, "mL/h"))


def test_a_rate_that_was_set_for_another_weight_is_told_for_this_one():
    found = where(drip(per_kg(0.1), weight=Weight(40, "kg", "stated")))

    assert (found.now, found.next, found.now_pump) == (per_kg(0.05), per_kg(0.1), Amount(15, "mL/h"))


@pytest.mark.parametrize(
    ("dose", "of", "weight"),
    [
        (drip(per_kg(0.05)), order(None), ADA),
        (drip(per_kg(0.05)), order(amount=None), ADA),
        (drip(), order(), ADA),
        (drip(None), order(), ADA),
        (drip(Amount(4, "mcg/min")), order(), None),
        (drip(Amount(15, "mL/h"), concentration=None), order(), ADA),
    ],
    ids=["no steps", "no amount", "no rate", "a pause alone", "no weight", "no strength"],
)
def test_where_rates_cannot_be_compared_nothing_is_told(dose: Dose, of: Order, weight: Weight | None):
    assert where(dose, of, weight=weight) is None


def test_without_a_strength_no_pump_rate_is_told():
    found = where(drip(per_kg(0.05), concentration=None))

    assert (found.next, found.now_pump, found.next_pump) == (per_kg(0.1), None, None)


@pytest.mark.parametrize(
    ("titrate", "words"),
    [
        (STEPS, "up by 0.05 mcg/kg/min every 3 min to MAP 65, most 0.2 mcg/kg/min"),
        (
            replace(STEPS, goal=PressureFloor("sbp", 100), call_at=per_kg(0.15)),
            "up by 0.05 mcg/kg/min every 3 min to systolic 100, most 0.2 mcg/kg/min, call at 0.15 mcg/kg/min",
        ),
    ],
)
def test_the_order_in_words(titrate: Titration, words: str):
    assert told(titrate) == words


CALLS = replace(STEPS, call_at=per_kg(0.15))


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        (STEPS, STEPS, []),
        (STEPS, replace(STEPS, step=Amount(0.00005, "mg/kg/min")), []),  # spelt otherwise
        (STEPS, replace(STEPS, step=per_kg(0.06)), ["titrate.step"]),
        (STEPS, replace(STEPS, every_min=5), ["titrate.every_min"]),
        (STEPS, replace(STEPS, most=per_kg(0.3)), ["titrate.most"]),
        (STEPS, replace(STEPS, goal=PressureFloor("map", 70)), ["titrate.goal"]),
        (STEPS, CALLS, ["titrate.call_at"]),
        (CALLS, STEPS, ["titrate.call_at"]),
        (CALLS, CALLS, []),
        (STEPS, replace(CALLS, most=per_kg(0.3)), ["titrate.most", "titrate.call_at"]),
        (STEPS, None, ["titrate"]),
        (None, STEPS, ["titrate"]),
        (None, None, []),
    ],
)
def test_which_parts_differ(one: Titration | None, other: Titration | None, apart: list[str]):
    assert differences(one, other) == apart


# ---- set for another weight


@pytest.mark.parametrize(
    ("rate", "then", "now", "strength", "words"),
    [
        (per_kg(0.1), 80, 8, BAG, "set for 80 kg: for 8 kg it is 1 mcg/kg/min"),
        (Amount(8, "mcg/min"), 80, 40, None, "set for 80 kg: for 40 kg it is 0.2 mcg/kg/min"),
        (Amount(30, "mL/h"), 80, 40, BAG, "set for 80 kg: for 40 kg it is 0.2 mcg/kg/min"),
        (Amount(30, "mL/h"), 80, 40, None, ""),
        (Amount(8, "mcg/min"), None, 40, None, "set before the weight was known: for 40 kg it is 0.2 mcg/kg/min"),
        (Amount(8, "mcg/min"), 80, 80, None, ""),
        (Amount(8, "mcg/min"), 80, None, None, ""),
        (None, 80, 40, None, ""),
    ],
)
def test_what_a_rate_is_per_kg_by_now(
    rate: Amount | None, then: float | None, now: float | None, strength: Amount | None, words: str
):
    before, after = (None if each is None else Weight(each, "kg", "measured") for each in (then, now))

    assert set_for.told(Rate(at(0), rate, before), strength, after) == words


@pytest.mark.parametrize(
    ("rate", "weight", "strength", "shown"),
    [
        (per_kg(0.1), ADA, BAG, 30),
        (Amount(8, "mcg/min"), None, BAG, 30),
        (Amount(12, "mL/h"), None, None, 12),
        (per_kg(0.1), None, BAG, None),
        (per_kg(0.1), ADA, None, None),
        (None, ADA, BAG, None),
    ],
)
def test_what_the_pump_was_set_to(rate: Amount | None, weight: Weight | None, strength: Amount | None, shown: Any):
    found = set_for.pump(Rate(at(0), rate, weight), strength)

    assert found == (None if shown is None else Amount(shown, "mL/h"))
