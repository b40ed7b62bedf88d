"""What physicians say and set is told to the crew: the words to an order, read back with the rest, and a new goal."""

from __future__ import annotations

from uuid import uuid4

import pytest

from consult.actions import cases
from consult.screens.crew_news import news
from tests.conftest import NOON, Consult, later
from tests.screens.conftest import Sign
from tests.screens.test_crew_news import brought_to, page_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]


@pytest.mark.parametrize("path", ["vitals/", "", "orders/", "orders/{}/", "orders/{}/readback/", "not-given"])
@pytest.mark.parametrize(
    ("how", "words"), [("changed", "start lower"), ("approved", "as agreed"), ("ordered", "no response to fluid")]
)
def test_what_a_physician_says_to_an_order_stands_wherever_it_is_told(
    consult: Consult, signed_in: Sign, path: str, how: str, words: str
):
    order = brought_to(consult, how)
    path = f"orders/{order}/not-given/" if path == "not-given" else path.format(order)
    page = page_of(signed_in, consult, path)
    (told,) = {each.text for each in page.every("says")}

    assert told == f"Dr. Merrin says: {words}"
    ticks = [box for row in page.every("recipe") for box in row.every("input", name="words_too")]
    assert bool(ticks) == ("readback" in path), "it is read back with the rest, and that is ticked off as such"


def test_a_new_goal_is_news(consult: Consult):
    goal = {"id": uuid4(), "measure": "map", "floor": 75, "reason": "head injury"}
    assert news(consult.cast.osk, NOON) == []
    cases.set_goal(consult.cast.merrin, consult.uid, goal, NOON)

    (told,) = news(consult.cast.osk, NOON)
    assert [told[name] for name in ("lead", "what", "why")] == ["NEW GOAL:", "MAP 75", "set by Dr. Merrin: head injury"]
    assert news(consult.cast.osk, later(minutes=31)) == []


def test_control_that_is_kept_comes_from_nobody_and_is_no_news(consult: Consult):
    for _ in range(2):
        cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)

    assert news(consult.cast.osk, NOON) == []
