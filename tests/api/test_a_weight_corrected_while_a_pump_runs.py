"""A weight is corrected while a pump runs: the pump goes on as it was set, so per kg it is another rate.

Norepinephrine 16 mcg/mL: 0.1 mcg/kg/min for 80 kg are 8 mcg/min, 30 mL/h; for 8 kg that is 1, for 40 kg 0.2 mcg/kg/min.
Dopamine prescribing information, mL/h = mcg/kg/min x kg x 60 / (mcg/mL). The standing most is 0.5 mcg/kg/min.
"""

from __future__ import annotations

import pytest

from consult.render.orders import how
from tests.api.story import Story
from tests.api.test_titration import Stepped, rate

DRIP, STRENGTH = "norepinephrine-infusion", "16 mcg/mL"


def weighs(story: Story, kg: float) -> None:
    body = {"patient": {"weight": {"value": kg, "unit": "kg", "basis": "measured"}}}
    assert story.crew.patch(f"cases/{story.case}/", body).status_code == 200


def outside(story: Story) -> list[str]:
    return [each["text"] for each in story.card()["alerts"] if each["kind"] == "dose_outside_limits"]


@pytest.mark.parametrize("amount", ["0.1 mcg/kg/min", "8 mcg/min", "30 mL/h"])
@pytest.mark.parametrize(("kg", "told"), [(8, "for 8 kg it is 1 mcg/kg/min"), (13, "for 13 kg it is 0.615 mcg/kg/min")])
def test_a_rate_that_is_too_much_by_the_new_weight_alarms(story: Story, amount: str, kg: float, told: str):
    """58 years and 8 or 13 kg: the age is wrong, too, but the pump runs now; 8 / 13 = 0.615."""
    story.give(DRIP, amount, status="running", concentration=STRENGTH)
    before = outside(story)
    weighs(story, kg)

    new = [each for each in outside(story) if each not in before]
    assert len(new) == 1
    assert told in new[0]
    assert "over the standing limit of 0.5 mcg/kg/min" in new[0]


@pytest.mark.parametrize("kg", [80, 40, 90])
def test_one_that_stays_inside_raises_nothing(story: Story, kg: float):
    story.give(DRIP, "8 mcg/min", status="running", concentration=STRENGTH)
    before = outside(story)
    weighs(story, kg)

    assert outside(story) == before


def test_what_was_pushed_or_stopped_before_is_left_alone(story: Story):
    drip = story.give(DRIP, "0.1 mcg/kg/min", status="running", concentration=STRENGTH)
    story.change(drip, status="stopped")
    story.give("fentanyl", "40 mcg")
    before = outside(story)
    weighs(story, 8)

    assert outside(story) == before


def test_an_order_read_back_to_step_it_up_stands_at_what_the_pump_gives(story: Story):
    """0.05 for 80 kg are 15 mL/h; for 40 kg that is 0.1, so the next step is 0.15 mcg/kg/min, 22.5 mL/h."""
    loop = Stepped(story)
    weighs(story, 40)

    assert (loop.stands["now"], loop.stands["now_pump"]) == (rate(0.1), rate(15, "mL/h"))
    assert (loop.stands["next"]["value"], loop.stands["next_pump"]["value"]) == (
        pytest.approx(0.15),
        pytest.approx(22.5),
    )


def test_what_is_ordered_is_told_at_the_weight_by_now(story: Story):
    """Norepinephrine 0.1 mcg/kg/min in steps of 0.05 to 0.3; by arithmetic, for 60 kg and of 16 mcg/mL:

    0.1 x 60 x 60 / 16 = 22.5 mL/h, steps of 11.25 to 67.5. What was set for 80 kg as 0.05 is 4 / 60 = 0.0667 now.
    """
    loop = Stepped(story, most=rate(0.3))
    assert "steps of 15 mL/h to at most 90 mL/h" in how(loop.order)
    seen = loop.order["check"]["findings"]
    weighs(story, 60)
    asked = {"treatment": DRIP, "amount": rate(0.1), "route": "IV", "new_rate": True}
    said = story.physician.post(
        f"cases/{story.case}/checks/", asked | {"concentration": {"value": 16, "unit": "mcg/mL"}}
    )

    assert how(loop.order) == "= 11.3 mL/h of 16 mcg per mL · steps of 11.3 mL/h to at most 67.5 mL/h"
    assert (loop.order["state"], loop.order["check"]["findings"]) == ("read_back", seen)
    assert "Pump 22.5 mL/h, now 0.0667 mcg/kg/min" in said.json()["effects"]


def test_a_request_is_checked_at_the_weight_by_now(story: Story):
    """0.1 mcg/kg/min of 16 mcg/mL are 30 mL/h for 80 kg, 22.5 for 60 and 3 for 8."""
    content = {"treatment": DRIP, "amount": rate(0.1), "route": "IV", "action": "start", "reason": "no response"}
    content["concentration"] = {"value": 16, "unit": "mcg/mL"}
    story.posted(f"cases/{story.case}/orders/", {"at": story.time(None), **content})
    for kg, shown in ((60, "= 22.5 mL/h of 16 mcg per mL"), (8, "= 3 mL/h of 16 mcg per mL")):
        weighs(story, kg)
        (order,) = story.card()["orders"]
        assert (how(order), order["state"]) == (shown, "requested")
