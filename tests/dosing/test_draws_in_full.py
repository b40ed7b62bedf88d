"""Of which syringe or bag a dose is, to when, and what is then known of it: arithmetic of volumes, no source needed.

4 mg in 250 mL are 16 mcg per mL (norepinephrine label), 100 mcg in 10 mL are 10 mcg per mL (recipe of the push dose).
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground.facts import Amount, Container
from tests.dosing.in_hand import BOLUS, DRIP, at, bag, bolus, drip, held, left, push, syringe

FLUID = {"treatment": BOLUS, "strength": None, "hung": True}


def ended(ml: float, minute: float | None = 90, **more: Any) -> Any:
    """An infusion whose pump said at its end what went in."""
    told = {"status": "stopped", "infused": Amount(ml, "mL"), "ended_at": None if minute is None else at(minute)}
    return drip((0, 8, "mcg/min"), **{**told, **more})


@pytest.mark.parametrize(
    ("ml", "first", "second"), [(100, 150, 250), (250, 0, 250), (300, 0, 200), (500, 0, 0), (600, 0, 0)]
)
def test_what_was_infused_in_all_comes_from_one_bag_after_the_other(ml: float, first: float, second: float) -> None:
    bags = held(bag(), bag(60, name="second"), doses=(ended(ml, container="bag"),))

    assert {name: float(one.left) for name, one in bags.items()} == {"bag": first, "second": second}
    assert sum(float(one.drawn) for one in bags.values()) == ml


def test_each_bag_knows_the_dose_that_drew_on_it_and_when() -> None:
    dose = ended(300, container="bag")
    bags = held(bag(), bag(60, name="second"), doses=(dose,))

    assert [one.last for one in bags.values()] == [dose, dose]
    assert [one.left_at for one in bags.values()] == [at(90), at(90)]


def test_without_an_end_it_is_dated_with_its_start() -> None:
    dose = ended(100, minute=None, container="bag", status="finished")

    assert held(bag(-5), doses=(dose,))["bag"].left_at == at(0)


@pytest.mark.parametrize("status", ["given", "finished"])
def test_a_bolus_that_is_in_drew_all_of_it_at_its_end(status: str) -> None:
    dose = bolus(0, 500, status=status, over_min=15, ended_at=at(40))
    one = held(bag(ml=1000, name="liter", **FLUID), doses=(dose,))["liter"]

    assert (float(one.left), one.left_at, one.per_min, one.last) == (500, at(40), 0, dose)


def test_a_bolus_that_was_stopped_drew_what_ran_until_then() -> None:
    """500 mL over 10 min are 50 mL/min: 200 mL in 4 min."""
    dose = bolus(0, 500, status="stopped", over_min=10, ended_at=at(4))
    one = held(bag(ml=1000, name="liter", **FLUID), doses=(dose,))["liter"]

    assert (float(one.left), one.left_at, one.last) == (800, at(4), dose)


def test_a_bolus_of_which_the_volume_was_told_drew_that() -> None:
    dose = bolus(0, 500, status="stopped", over_min=10, ended_at=at(4), infused=Amount(120, "mL"))
    one = held(bag(ml=1000, name="liter", **FLUID), doses=(dose,))["liter"]

    assert (float(one.left), one.left_at, one.last) == (880, at(4), dose)


def test_a_push_is_the_last_dose_of_its_syringe() -> None:
    first, second = push(1), push(4, 20)

    assert held(syringe(), doses=(first, second))["syringe"].last == second


@pytest.mark.parametrize(
    ("concentration", "ml"), [(Amount(10, "mcg/mL"), 9), (Amount(0.1, "mg/mL"), 10)], ids=["its own", "the vial's"]
)
def test_a_concentration_is_what_is_in_the_hand_and_no_vial_to_be_thinned(concentration: Amount, ml: float) -> None:
    assert left(syringe(), doses=(push(1, concentration=concentration),)) == {"syringe": ml}


def test_what_was_recorded_without_a_strength_is_drawn_from_by_volume_alone() -> None:
    unknown = syringe(strength=None)

    assert left(unknown, doses=(push(1, amount=Amount(3, "mL"), stock=Amount(10, "mcg/mL")),)) == {"syringe": 7}


class TestWhichBagAnInfusionRunsFrom:
    """8 mcg/min of 16 mcg per mL are 0.5 mL/min: 50 mL in 100 min."""

    def left_after(self, *bags: Container, **more: Any) -> dict[str, float]:
        dose = drip((10, 8, "mcg/min"), status="stopped", ended_at=at(110), **more)
        return left(*bags, doses=(dose,))

    def test_the_newest_that_was_mixed_before_it_began(self) -> None:
        bags = (bag(), bag(5, name="second"), bag(60, name="third"))
        assert self.left_after(*bags) == {"bag": 250, "second": 200, "third": 250}

    def test_its_own_before_any_other(self) -> None:
        bags = (bag(10, name="drip", hung=True), bag(5, name="second"))
        assert self.left_after(*bags) == {"drip": 200, "second": 250}

    def test_never_one_that_hangs_for_another_infusion(self) -> None:
        assert self.left_after(bag(0, name="another", hung=True)) == {"another": 250}

    def test_never_one_of_another_drug(self) -> None:
        other = bag(0, name="another", treatment="epinephrine-infusion", strength=Amount(4, "mcg/mL"))
        assert self.left_after(other) == {"another": 250}

    def test_its_own_is_not_run_twice(self) -> None:
        """Named and hung by it at once, as when a mixed bag is hung."""
        assert self.left_after(bag(10, ml=20, name="drip", hung=True), treatment=DRIP) == {"drip": 0}
