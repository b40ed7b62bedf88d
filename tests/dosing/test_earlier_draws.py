"""What the doses of a long case drew is told as if each were still kept: volumes add up, by arithmetic, no source.

The syringe of the rules: 100 mcg in 10 mL, so that 20 mcg are 2 mL (reference/rules, "Preparing").
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from dosing.ground.facts import Amount, Container, Dose
from dosing.ground.given_before import DrawnBefore, Earlier
from dosing.held import earlier_draws
from tests.dosing.bedside import RULES
from tests.dosing.in_hand import BOLUS, at, bag, bolus, cylinder, held, push, syringe

TWO = (syringe(), syringe(6, name="second"))
FIVE = (push(1), push(3, 20), push(5, 15), push(7, 20), push(9, 5))
FEW = int(RULES.ledger.pushes_for_rate)


def added_up(doses: tuple[Dose, ...], *containers: Container, before: Earlier | None = None) -> Earlier:
    return earlier_draws.with_doses(before or Earlier(), doses, containers, RULES)


def told(*containers: Container, **known: Any) -> dict[str, tuple[Any, ...]]:
    found = held(*containers, **known)
    return {name: (one.drawn, one.left, one.left_at, sorted(one.draws)[-FEW:]) for name, one in found.items()}


@pytest.mark.parametrize("kept", range(len(FIVE) + 1))
def test_it_does_not_matter_how_many_of_the_doses_are_kept(kept: int) -> None:
    before, rest = FIVE[: len(FIVE) - kept], FIVE[len(FIVE) - kept :]

    assert told(*TWO, doses=rest, earlier=added_up(before, *TWO)) == told(*TWO, doses=FIVE)


def test_nor_in_how_many_parts_they_were_added_up() -> None:
    parts = added_up(FIVE[2:], *TWO, before=added_up(FIVE[:2], *TWO))

    assert parts.drawn == added_up(FIVE, *TWO).drawn
    assert parts.given[FIVE[0].treatment].count == len(FIVE)


def test_what_was_drawn_is_kept_by_container_with_the_time_and_the_last_few() -> None:
    """10, 20 and 15 mcg of the first are 4.5 mL; 20 and 5 of the second are 2.5 mL."""
    assert added_up(FIVE, *TWO).drawn == {
        "syringe": DrawnBefore("9/2", at(5), ((at(1), "1"), (at(3), "2"), (at(5), "3/2"))[-FEW:]),
        "second": DrawnBefore("5/2", at(9), ((at(7), "2"), (at(9), "1/2"))),
    }


def test_no_more_draws_are_kept_than_a_rate_of_pushes_takes() -> None:
    many = tuple(push(minute, 1) for minute in range(FEW + 3))

    assert added_up(many, syringe()).drawn["syringe"].draws == tuple(
        (at(minute), "1/10") for minute in range(3, FEW + 3)
    )


@pytest.mark.parametrize(
    "dose",
    [push(1, prior=True), push(1, treatment="other", name="ephedrine"), push(-1)],
    ids=["by others", "not in the rules", "before it was mixed"],
)
def test_what_was_not_drawn_from_it_keeps_nothing(dose: Dose) -> None:
    assert added_up((dose,), syringe()).drawn == {}


def test_oxygen_is_no_liquid() -> None:
    assert added_up((push(1),), cylinder(), syringe()).drawn.keys() == {"syringe"}


def test_what_another_container_gave_before_stays() -> None:
    before = added_up((bolus(1, 300),), bag(treatment=BOLUS, strength=None, ml=1000))
    after = added_up((push(3),), bag(treatment=BOLUS, strength=None, ml=1000), syringe(), before=before)

    assert {name: each.volume for name, each in after.drawn.items()} == {"bag": "300", "syringe": "1"}


def test_containers_stand_by_their_time_whatever_their_order() -> None:
    every = earlier_draws.begun(reversed(TWO), added_up((push(1),), *TWO), RULES)

    assert [(each.container.id, each.drawn) for each in every] == [("syringe", Fraction(1)), ("second", Fraction(0))]


def test_a_dose_of_a_treatment_without_anything_in_hand_is_added_up_all_the_same() -> None:
    earlier = added_up((push(1, amount=Amount(20, "mcg")),))

    assert (earlier.drawn, earlier.given[FIVE[0].treatment].count) == ({}, 1)
