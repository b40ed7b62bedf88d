"""The doses left in a syringe at the edges of what is known, and what keeps an empty one on the list.

Doses are arithmetic: what is left / the volume of one. Limits are those of the demonstration rules, by name.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground.facts import Amount, Container, Dose, Reading, Weight
from dosing.held import ledger
from tests.copying import replace
from tests.dosing.bedside import RULES, child
from tests.dosing.in_hand import (
    BOLUS,
    at,
    bag,
    cylinder,
    doses_left,
    drip,
    facts,
    push,
    shown,
    syringe,
)


def of(treatment: str, value: float, unit: str = "mg/mL", ml: float = 10) -> Container:
    return syringe(ml=ml, treatment=treatment, strength=Amount(value, unit))


def push_of(minutes: float, value: float, unit: str, **more: Any) -> Dose:
    return replace(push(minutes), amount=Amount(value, unit), **more)


def test_a_dose_by_weight_counts_what_it_came_to() -> None:
    """0.25 mcg/kg of 80 kg are 20 mcg, 2 mL: four are left in 8 mL."""
    dose = push_of(1, 0.25, "mcg/kg", weight=Weight(80))

    found = doses_left(syringe(), dose)
    assert found == ledger.DosesLeft(4, 4, Amount(0.25, "mcg/kg"), Amount(0.25, "mcg/kg"), last=True)


def test_a_dose_by_a_weight_that_nobody_knows_counts_nothing() -> None:
    assert doses_left(syringe(), push_of(1, 0.25, "mcg/kg")) is None


@pytest.mark.parametrize(
    "dose", [push(5, 50, prior=True), replace(push(5), amount=None)], ids=["by others before", "without an amount"]
)
def test_what_was_not_a_dose_of_this_crew_is_no_last_one(dose: Dose) -> None:
    found = doses_left(syringe(), push(1, 20), dose)

    assert found == ledger.DosesLeft(4, 4, Amount(20, "mcg"), Amount(20, "mcg"), last=True)


def test_a_dose_of_another_drug_is_no_last_one() -> None:
    phenylephrine = push(5, treatment="phenylephrine-push-dose", amount=Amount(100, "mcg"))
    found = doses_left(syringe(), phenylephrine)

    assert found == ledger.DosesLeft(5, 10, Amount(10, "mcg"), Amount(20, "mcg"))


@pytest.mark.parametrize(
    ("one", "expected"),
    [
        (of("tranexamic-acid", 100, ml=9), ledger.DosesLeft(0, 0, Amount(1000, "mg"), Amount(1000, "mg"))),
        (of("tranexamic-acid", 100, ml=25), ledger.DosesLeft(2, 2, Amount(1000, "mg"), Amount(1000, "mg"))),
    ],
    ids=["less than one", "two"],
)
def test_where_the_rules_state_no_least_every_dose_is_the_most(one: Container, expected: ledger.DosesLeft) -> None:
    """1 g at 100 mg per mL is 10 mL."""
    assert doses_left(one) == expected


def test_the_limits_do_not_move_with_a_reading() -> None:
    low = (Reading(taken_at=at(0), sbp=60, dbp=30),)
    high = (Reading(taken_at=at(0), sbp=150, dbp=90),)
    ketamine = of("ketamine", 10, ml=5)

    assert doses_left(ketamine, readings=low) == doses_left(ketamine, readings=high) == doses_left(ketamine)


def test_a_small_childs_least_gives_way_to_its_most() -> None:
    """2 mcg/kg of 0.3 kg are 0.6 mcg, below the least of 1 mcg: 100 mcg hold 166 of them."""
    found = doses_left(syringe(), patient=child(5, 0.3, "days"))

    assert found == ledger.DosesLeft(166, 166, Amount(0.6, "mcg"), Amount(0.6, "mcg"))


class TestNoteOfAStrength:
    @pytest.mark.parametrize(
        "one",
        [syringe(treatment=None), bag(treatment=BOLUS, strength=None), cylinder(), syringe()],
        ids=["of no treatment", "a fluid", "oxygen", "the usual"],
    )
    def test_there_is_none(self, one: Container) -> None:
        (held,) = ledger.holdings(facts(one), RULES)
        assert ledger.note(held) == ""


class TestAnEmptyOne:
    def test_of_one_dose_stays_while_there_is_no_other(self) -> None:
        assert shown(syringe(), doses=(push(1, 100),)) == ["syringe"]

    def test_stays_beside_one_that_was_mixed_before_it(self) -> None:
        before = syringe(-10, name="before")
        assert shown(before, syringe(), doses=(push(1, 100, container="syringe"),)) == ["before", "syringe"]

    def test_goes_once_a_later_one_of_its_drug_is_there(self) -> None:
        assert shown(syringe(), syringe(5, name="later"), doses=(push(1, 100),)) == ["later"]

    def test_stays_where_the_later_one_is_of_another_drug(self) -> None:
        later = bag(5, name="later")
        assert shown(syringe(), later, doses=(push(1, 100),)) == ["syringe", "later"]


def test_oxygen_alone_has_no_part_in_doses_and_infusions() -> None:
    one = facts(cylinder(), doses=(push(1), drip((0, 8, "mcg/min"))))

    assert [float(each.left) for each in ledger.holdings(one, RULES)] == [
        float(each.left) for each in ledger.holdings(facts(cylinder()), RULES)
    ]
