"""What a journal line keeps of a card: the difference to the card before, from which each card comes out again."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consult import card_diff

ITEMS = st.fixed_dictionaries(
    {"id": st.sampled_from("abcdef"), "left": st.integers(0, 3)},
    optional={"rates": st.lists(st.integers(0, 2), max_size=3), "ended": st.none()},
)
POINTS = st.fixed_dictionaries({"t": st.sampled_from(["10:00", "10:01"]), "sbp": st.integers(90, 92)})
CARDS = st.fixed_dictionaries(
    {
        "doses": st.lists(ITEMS, max_size=6),
        "trend": st.lists(POINTS, max_size=6),
        "physician": st.none() | st.fixed_dictionaries({"name": st.sampled_from(["Merrin", "Quillan"])}),
        "goal": st.sampled_from([None, {"floor": 65}]),
    }
)


@given(st.lists(CARDS, min_size=1, max_size=5))
def test_every_card_comes_out_of_the_differences_again(cards: list[dict[str, Any]]) -> None:
    steps = [card_diff.between(old, new) for old, new in zip([{}, *cards[:-1]], cards, strict=True)]

    for count, card in enumerate(cards, 1):
        assert card_diff.replayed(steps[:count]) == card


def _dose(number: int, **more: Any) -> dict[str, Any]:
    return {"id": f"dose {number}", "shown": "epinephrine 10 mcg", "in_error": False, **more}


DOSES = [_dose(number) for number in range(60)]
LISTS: dict[str, tuple[list[dict[str, Any]], list[Any]]] = {
    "one more": ([*DOSES, _dose(60)], [[60, 60, [_dose(60)]]]),
    "one more, the oldest leaves": ([*DOSES[1:], _dose(60)], [[0, 1, []], [60, 60, [_dose(60)]]]),
    "one between": ([*DOSES[:7], _dose(70), *DOSES[7:]], [[7, 7, [_dose(70)]]]),
    "one changed": ([*DOSES[:5], _dose(5, in_error=True), *DOSES[6:]], [[5, {"in_error": True}]]),
    "one says more": ([*DOSES[:5], _dose(5, by="Osk"), *DOSES[6:]], [[5, {"by": "Osk"}]]),
    "one says less": ([*DOSES[:5], {"id": "dose 5"}, *DOSES[6:]], [[5, 6, [{"id": "dose 5"}]]]),
    "one removed": (DOSES[:59], [[59, 60, []]]),
}


@pytest.mark.parametrize("name", LISTS)
def test_a_list_is_told_by_the_items_that_differ(name: str) -> None:
    doses, places = LISTS[name]

    assert card_diff.between({"doses": DOSES}, {"doses": doses}) == {"doses": {"places": places}}


def test_a_list_inside_an_item_is_told_the_same_way() -> None:
    before = _dose(1, rates=[{"at": "10:00", "value": 4}])
    after = _dose(1, rates=[{"at": "10:00", "value": 4}, {"at": "10:05", "value": 8}])

    told = card_diff.between({"doses": [before]}, {"doses": [after]})

    added = {"rates": {"places": [[1, 1, [{"at": "10:05", "value": 8}]]]}}
    assert told == {"doses": {"places": [[0, added]]}}


def test_two_points_of_one_time_are_two() -> None:
    crowded = [{"t": "10:00", "sbp": value} for value in range(60)]
    later = [*crowded[1:], {"t": "10:00", "sbp": 99}]

    told = card_diff.between({"trend": crowded}, {"trend": later})

    assert told == {"trend": {"places": [[0, 1, []], [60, 60, [{"t": "10:00", "sbp": 99}]]]}}
