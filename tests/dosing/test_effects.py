"""What a dose would do, told before anybody decides: volume over rate, by hand.

Dopamine prescribing information: mL/h = mcg/kg/min x kg x 60 / (mcg/mL); 0.2 mcg/kg/min of 16 mcg/mL at 80 kg: 60 mL/h.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground.facts import Amount, Facts, Proposal, Reading
from dosing.held.effects import effects
from tests.copying import replace
from tests.dosing.bedside import RULES
from tests.dosing.in_hand import DRIP, PUSH, SIXTEEN, at, bag, drip, facts, push, syringe

SIXTY, FASTER = Amount(60, "mL/h"), Amount(0.2, "mcg/kg/min")
SALTS = ("calcium-gluconate", "calcium-chloride")
RUNS = drip((0, 0.1, "mcg/kg/min"))


def would(known: Facts, minute: float, amount: Amount, rate: Amount | None = None, **more: Any) -> list[str]:
    treatment = DRIP if amount.unit.endswith("/min") else PUSH
    proposal = Proposal(treatment=treatment, amount=amount, route="IV", at=at(minute), **more)
    return list(effects(proposal, rate, known, RULES))


def mean(minute: float, value: float) -> Reading:
    return Reading(taken_at=at(minute), sbp=120, dbp=(3 * value - 120) / 2)


@pytest.mark.parametrize(
    ("eta", "arrival"),
    [
        (None, ""),
        (5, ""),  # past
        (300, ", 45 min before the arrival at 15:00 UTC"),
        (240, ", beyond the arrival at 14:00 UTC"),
    ],
)
def test_a_new_rate_tells_the_pump_and_how_long_the_bag_lasts(eta: float | None, arrival: str):
    """10 min at 30 mL/h are 5 mL: 245 mL at 60 mL/h last 4 h 5 min, to 14:15."""
    known = facts(bag(), doses=(RUNS,), eta=None if eta is None else at(eta))
    pump, lasts, _ = would(known, 10, FASTER, SIXTY, concentration=SIXTEEN, new_rate=True)

    assert pump == "Pump 60 mL/h, now 0.1 mcg/kg/min"
    assert lasts == f"245 mL left in the bag: lasts 4 h 5 min, to 14:15 UTC{arrival}"


FAST = drip((0, 0.4, "mcg/kg/min"))  # 120 mL/h of 16 mcg/mL at 80 kg
QUICKER = (Amount(0.6, "mcg/kg/min"), Amount(180, "mL/h"))


@pytest.mark.parametrize(
    ("second", "told"),
    [
        pytest.param(
            [bag(20)],
            "230 mL left in the bag: lasts 1 h 16 min, to 12:16 UTC",
            id="the next bag runs since it was empty",
        ),
        pytest.param([], "The bag is empty by its rates: record the one that hangs now", id="no other bag is recorded"),
        pytest.param(
            [bag(20, strength=Amount(64, "mcg/mL"))],
            "The bag is empty by its rates: record the one that hangs now",
            id="the other bag holds another strength",
        ),
    ],
)
def test_after_the_first_bag_the_next_of_its_strength_is_told(second: list[Any], told: str):
    """100 mL at 120 mL/h are empty after 50 min; 10 min later the next has 250 - 20 mL: 76 min at 180 mL/h."""
    known = facts(bag(ml=100, name="drip", hung=True), *second, doses=(FAST,))
    amount, pump = QUICKER

    assert would(known, 60, amount, pump, concentration=SIXTEEN, new_rate=True)[1] == told


def test_while_the_first_bag_is_not_empty_it_is_the_one_that_is_told():
    known = facts(bag(ml=100, name="drip", hung=True), bag(20), doses=(FAST,))
    amount, pump = QUICKER

    told = would(known, 30, amount, pump, concentration=SIXTEEN, new_rate=True)[1]
    assert told == "40 mL left in the bag: lasts 13 min, to 10:43 UTC"


def test_of_what_is_held_nothing_runs_meanwhile():
    held = replace(RUNS, status="held", rates=(*RUNS.rates, replace(RUNS.rates[0], at=at(10), amount=None)))
    pump, lasts, _ = would(facts(bag(), doses=(held,)), 40, FASTER, SIXTY, concentration=SIXTEEN, new_rate=True)

    assert pump == "Pump 60 mL/h, now held, was 0.1 mcg/kg/min"
    assert lasts.startswith("245 mL left")


def test_what_lasts_for_days_says_no_clock_time():
    (lasts,) = would(facts(bag(ml=1000)), 0, Amount(0.02, "mcg/kg/min"), Amount(6, "mL/h"), concentration=SIXTEEN)
    assert lasts == "1,000 mL left in the bag: lasts more than a day"


def test_a_push_tells_the_total_the_syringe_and_the_last_response():
    """Two of 20 mcg are 4 mL of the 10 mL at 10 mcg/mL; 30 mcg more are 70 in all, and 2 such in the 6 mL left."""
    known = facts(syringe(), doses=(push(0, 20), push(4, 20)), readings=(mean(3, 58), mean(6, 66)))

    assert would(known, 8, Amount(30, "mcg")) == [
        "70 mcg in all with this dose, number 3",
        "6 mL left in the syringe: 2 such doses",
        "Last 20 mcg at 10:04 UTC: MAP 58 → 66",
    ]


RAISED = replace(drip((0, 0.05, "mcg/kg/min"), (8, 0.1, "mcg/kg/min")), changed_at=at(8))
STOPPED = replace(RAISED, status="stopped", ended_at=at(10))


@pytest.mark.parametrize(
    ("ran", "readings", "told"),
    [
        (STOPPED, (mean(7, 59),), ", stopped 10:10 UTC: MAP 59 before it, 10:07 UTC; no reading shows its effect"),
        (RAISED, (mean(7, 59),), ": MAP 59 before it, 10:07 UTC; no reading shows its effect yet"),
        (STOPPED, (), ", stopped 10:10 UTC: no MAP before it, no reading shows its effect"),
    ],
)
def test_of_a_rate_that_no_reading_follows_the_pressure_before_is_told(
    ran: Any, readings: tuple[Reading, ...], told: str
):
    """A pressure of 10:07 stands before the step of 10:08, whatever came too late to show what it did."""
    known = facts(bag(), doses=(ran,), readings=readings)
    *_, last = would(known, 12, FASTER, SIXTY, concentration=SIXTEEN)

    assert last == f"Last 0.1 mcg/kg/min at 10:08 UTC{told}"


def test_of_a_count_that_is_shared_the_total_is_of_the_drug_alone():
    """1 g of each salt before: the third dose, 3 g of gluconate, makes 4 g of it and not 5 (arithmetic)."""
    given = tuple(replace(push(0, 1), id=slug, treatment=slug, amount=Amount(1, "g")) for slug in SALTS)
    proposal = Proposal(treatment="calcium-gluconate", amount=Amount(3, "g"), route="IV", at=at(20))

    assert "4 g in all with this dose, number 3" in list(effects(proposal, None, facts(doses=given), RULES))


@pytest.mark.parametrize(("mcg", "told"), [(40, "1 such dose"), (70, "less than one such dose"), (60, "1 such dose")])
def test_how_many_such_doses_the_syringe_holds(mcg: float, told: str):
    known = facts(syringe(), doses=(push(0, 20), push(4, 20)))
    assert would(known, 8, Amount(mcg, "mcg"))[1] == f"6 mL left in the syringe: {told}"


@pytest.mark.parametrize(("container", "left"), [(None, 10), ("second", 10), ("syringe", 8)])
def test_the_syringe_that_is_named_is_told_else_the_newest(container: str | None, left: float):
    known = facts(syringe(), syringe(4, name="second"), doses=(push(1, 20),))
    assert would(known, 8, Amount(30, "mcg"), container=container)[1].startswith(f"{left} mL left in the syringe")


def test_of_what_runs_its_own_bag_is_told_and_not_a_newer_one():
    known = facts(bag(name="drip"), bag(5, 500, name="next"), doses=(RUNS,))
    assert would(known, 10, FASTER, SIXTY, concentration=SIXTEEN, new_rate=True)[1].startswith("245 mL left")


def test_without_anything_in_hand_or_given_little_is_told():
    assert would(facts(), 0, Amount(30, "mcg")) == ["30 mcg in all with this dose, number 1"]
    assert would(facts(), 0, FASTER) == []
