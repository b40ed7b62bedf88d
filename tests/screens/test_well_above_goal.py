"""What runs by an order with steps, against the goal: both sides are told of a lower rate, and of another goal."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest

from consult.actions import cases, orders, read_back
from consult.render import card_html
from tests.conftest import NOON, Consult, later
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = pytest.mark.usefixtures("at_noon")

LOWER = "A lower rate is within this order."
STEPS = {
    "step": {"value": 0.05, "unit": "mcg/kg/min"},
    "every_min": 3,
    "most": {"value": 0.3, "unit": "mcg/kg/min"},
    "goal": {"measure": "map", "floor": 65},
}


@pytest.fixture
def stepped(consult: Consult) -> Consult:
    """A norepinephrine infusion that runs by an order to step it up to MAP 65."""
    consult.vitals(sbp=80, dbp=40)
    drip = {"treatment": "norepinephrine-infusion", "route": "IV", "amount": {"value": 0.1, "unit": "mcg/kg/min"}}
    asked = {"id": uuid4(), "at": NOON, "reason": "low", "action": "start", "titrate": STEPS, **drip}
    order = orders.request_order(consult.cast.merrin, consult.uid, asked, NOON).resource.id
    said = {"id": uuid4(), "action": "start", "titrate": STEPS, **drip}
    read_back.read_back(consult.cast.osk, UUID(order), said, NOON)
    strength = {"concentration": {"value": 16, "unit": "mcg/mL"}}
    consult.give(drip["treatment"], 0.1, "mcg/kg/min", status="running", order=UUID(order), **strength)
    return consult


@pytest.mark.parametrize(("sbp", "told"), [(119, False), (120, True)], ids=["MAP 79.67", "MAP 80"])
def test_the_physician_is_told(sbp: float, told: bool, stepped: Consult):
    stepped.vitals(sbp=sbp, dbp=60, at=later(minutes=5))
    panel = read(card_html(stepped.card)).one("ask")

    assert ("Well above the goal, by 15 mmHg. " + LOWER in panel.text) == told


def test_the_crew_is_told_and_led_to_where_a_rate_is_set(stepped: Consult, signed_in: Sign):
    stepped.vitals(sbp=120, dbp=60, at=later(minutes=5))
    steps = read(signed_in("osk").get(f"/crew/{stepped.uid}/").text).one("stepping")

    assert LOWER in steps.text
    (runs,) = stepped.card["running"]
    assert [link.text for link in steps.every("a", href=f"/crew/{stepped.uid}/change/{runs['id']}/")] == [
        "Set a lower rate"
    ]


@pytest.mark.parametrize(
    ("measure", "floor", "told"),
    [("map", 65, ""), ("map", 70, "MAP 70"), ("map", 60, "MAP 60"), ("sbp", 100, "systolic 100")],
)
def test_both_are_told_that_the_steps_go_to_the_goal_of_their_order(
    measure: str, floor: float, told: str, stepped: Consult, signed_in: Sign
):
    """Setting a goal changes no order: whoever set it must not think that the crew steps up to it."""
    goal = {"id": uuid4(), "measure": measure, "floor": floor, "reason": "as before"}
    cases.set_goal(stepped.cast.merrin, stepped.uid, goal, later(minutes=4))
    stepped.vitals(sbp=85, dbp=59, at=later(minutes=5))
    crew, case = signed_in("osk"), signed_in("merrin")
    pages = [read(case.get(path).text).one("ask") for path in ("/board/", f"/cases/{stepped.uid}/")]

    for shown in (*pages, read(crew.get(f"/crew/{stepped.uid}/").text).one("stepping")):
        said = f"The goal is {told} now. These steps still go to MAP 65"
        assert (said in shown.text) == bool(told)
        assert (
            ("The goal is" in shown.text)
            == ("At this order’s goal: it needs no further step." in shown.text)
            == bool(told)
        )

    row = read(crew.get(f"/crew/{stepped.uid}/").text).one("section", data_part="orders").text
    assert ("At this order’s goal" if told else "At the goal") in row


def test_a_goal_that_nobody_set_is_no_other_one(stepped: Consult, signed_in: Sign):
    assert "The goal is" not in read(signed_in("osk").get(f"/crew/{stepped.uid}/").text).one("stepping").text
