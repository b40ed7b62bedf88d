"""One bag by itself: how long it runs, what is then left, and when it is in hand. Arithmetic, no source needed."""

from __future__ import annotations

from fractions import Fraction

import pytest

from dosing.held.container_state import ContainerState, as_filled
from tests.copying import replace
from tests.dosing.bedside import RULES
from tests.dosing.in_hand import at, bag

TEN_A_MINUTE = Fraction(10)  # 250 mL last 25 min


def fresh(minutes: float = 0, drawn: int = 0, discarded: float | None = None) -> ContainerState:
    one = as_filled(bag(minutes, discarded_at=None if discarded is None else at(discarded)), RULES)
    return replace(one, drawn=Fraction(drawn))


@pytest.mark.parametrize(
    ("one", "start", "end", "until", "gone", "drawn", "still"),
    [
        (fresh(), 0, None, 25, True, 0, 10),
        (fresh(), 0, 10, 10, False, 100, 0),
        (fresh(), 0, 25, 25, True, 250, 0),
        (fresh(), 0, 40, 25, True, 250, 0),
        (fresh(5), 0, 5, 0, False, 0, 0),
        (fresh(5), 0, 15, 15, False, 100, 0),
        (fresh(discarded=10), 0, None, 10, True, 100, 0),
        (fresh(discarded=10), 0, 10, 10, True, 100, 0),
        (fresh(discarded=10), 0, 8, 8, False, 80, 0),
        (fresh(discarded=10), 10, None, 10, True, 0, 0),
        (fresh(discarded=10), 12, 20, 12, True, 0, 0),
        (fresh(drawn=250), 5, None, 5, True, 250, 10),
        (fresh(drawn=250), 5, 9, 5, True, 250, 0),
        (fresh(drawn=300), 5, 9, 5, True, 300, 0),
    ],
    ids=[
        "still runs",
        "stopped",
        "stopped as it was empty",
        "stopped after it was empty",
        "stopped before it was hung",
        "hung later than it began",
        "discarded while it ran",
        "discarded as it was stopped",
        "stopped before it was discarded",
        "discarded as it began",
        "discarded before it began",
        "empty before, still runs",
        "empty before, stopped",
        "more than empty before",
    ],
)
def test_a_run_ends_with_its_stop_its_bag_or_its_discard(
    one: ContainerState, start: float, end: float | None, until: float, gone: bool, drawn: int, still: int
) -> None:
    one = replace(one)

    assert one.run(at(start), None if end is None else at(end), TEN_A_MINUTE) == (at(until), gone)
    assert (one.drawn, one.per_min) == (drawn, still)


@pytest.mark.parametrize(
    ("minute", "there"), [(-1, False), (0, True), (5, True), (9.99, True), (10, False), (11, False)]
)
def test_it_is_in_hand_from_its_mixing_until_it_is_discarded(minute: float, there: bool) -> None:
    assert fresh(discarded=10).in_hand(at(minute)) is there


def test_of_what_no_volume_was_told_nothing_is_left() -> None:
    one = as_filled(bag(volume=None), RULES)

    assert (one.volume, one.left, one.left_at) == (0, 0, at(0))


def test_a_bag_of_no_treatment_of_the_rules_belongs_to_none() -> None:
    assert as_filled(bag(treatment=None), RULES).treatment is None
