"""What runs goes on from a bag of another strength: the same drug, another pump rate; the order and its steps go on.

By hand, norepinephrine for 80 kg: 0.1 mcg/kg/min are 8 mcg/min, of 16 mcg/mL 30 mL/h, of 64 mcg/mL 7.5; 30 mL/h of
64 mcg/mL would be 0.4 mcg/kg/min.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.api.conftest import new_id
from tests.api.story import Story, codes
from tests.api.test_titration import Stepped, rate

DRIP = "norepinephrine-infusion"
STRONG = {"value": 64, "unit": "mcg/mL"}


@pytest.fixture
def loop(story: Story) -> Stepped:
    """0.05 mcg/kg/min of 16 mcg/mL by an order with steps, from a bag of 250 mL; one of 64 mcg/mL is in hand."""
    stepped = Stepped(story)
    bag = {"form": "bag", "treatment": DRIP, "strength": STRONG, "volume": {"value": 100, "unit": "mL"}}
    story.posted(f"cases/{story.case}/containers/", {"at": story.time(None), **bag})
    return stepped


def left(story: Story) -> list[float]:
    return [each["left"]["value"] for each in story.card()["in_hand"]]


def test_the_same_rate_runs_on_from_the_new_bag_and_the_steps_go_on(story: Story, loop: Stepped):
    """After 10 min at 15 mL/h 2.5 mL are gone of 250; 0.05 mcg/kg/min of 64 mcg/mL are 3.75 mL/h."""
    story.at(10)
    story.read(sbp=84, dbp=44)
    answer = story.change(loop.runs, amount=rate(0.05), concentration=STRONG, order=loop.id)
    assert answer["check"]["give"]["rate"] == rate(3.75, "mL/h")
    assert "order_not_read_back" not in {each["code"] for each in answer["check"]["findings"]}
    (dose,) = story.card()["running"]
    assert (dose["concentration"], loop.order["state"], loop.alarms) == (STRONG, "read_back", 0)
    assert [each["concentration"] for each in dose["rates"]] == [{"value": 16, "unit": "mcg/mL"}, None]
    assert left(story) == [247.5, 100], "the old bag stands still from then on"
    assert loop.stands["now_pump"] == rate(3.75, "mL/h")
    assert loop.stands["next_pump"] == rate(7.5, "mL/h")

    story.at(30)
    story.read(sbp=84, dbp=44)
    found = loop.step(30, 0.1)
    assert "too_soon" not in found
    assert left(story) == [247.5, 98.75], "20 min at 3.75 mL/h are 1.25 mL"


def test_a_rate_of_the_pump_is_one_of_the_bag_that_is_named(story: Story, loop: Stepped):
    asked = {"treatment": DRIP, "route": "IV", "amount": rate(30, "mL/h"), "concentration": STRONG, "new_rate": True}
    said = story.crew.post(f"cases/{story.case}/checks/", asked).json()
    story.at(5)
    check = story.change(loop.runs, amount=rate(30, "mL/h"), concentration=STRONG)["check"]

    assert said["give"]["dose"] == rate(0.4)
    assert check["give"]["dose"] == rate(0.4)
    assert any("100 mL left in the bag" in each for each in said["effects"]), said["effects"]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"status": "held", "concentration": STRONG}, "/concentration"),
        ({"amount": rate(0.1), "concentration": {"value": 64, "unit": "units/mL"}}, "/concentration"),
    ],
    ids=["without a rate", "no strength"],
)
def test_what_cannot_be_meant_is_refused(story: Story, loop: Stepped, change: dict[str, Any], pointer: str):
    answer = story.crew.post(f"interventions/{loop.runs['id']}/changes/", {"id": new_id(), **change})

    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == pointer


def test_a_later_rate_is_of_the_bag_that_hangs(story: Story, loop: Stepped):
    story.at(5)
    story.change(loop.runs, amount=rate(0.05), concentration=STRONG)
    story.at(9)
    check = story.change(loop.runs, amount=rate(7.5, "mL/h"))["check"]

    assert check["give"]["dose"] == rate(0.1)


def test_the_same_rate_from_another_bag_waits_for_no_reading(story: Story, loop: Stepped):
    """No pressure since the start: a higher rate would want one, what goes on as it was does not."""
    story.at(1)
    same = story.change(loop.runs, amount=rate(0.05), concentration=STRONG)["check"]
    story.at(2)
    more = story.change(loop.runs, amount=rate(0.1))["check"]

    assert "no_pressure_since_last_dose" not in codes(same)
    assert "no_pressure_since_last_dose" in codes(more)
    assert loop.alarms == 1
