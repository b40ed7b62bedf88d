"""An order with a stop rule: contract, "Orders", `titrate`.

Norepinephrine is stepped up to a MAP of 65 mmHg by the sepsis guideline (Surviving Sepsis Campaign 2021); the steps
here are common practice, no source. mL/h as in `test_holding_what_runs`: 0.05 mcg/kg/min of 16 mcg/mL at 80 kg are 15.
"""

from __future__ import annotations

from typing import Any

import pytest

from consult.render.order_story import held
from tests.api.conftest import new_id, refused
from tests.api.story import Story, minute
from tests.api.worked import amount

DRIP = "norepinephrine-infusion"
OF_BAG = {"concentration": {"value": 16, "unit": "mcg/mL"}}


def rate(value: float, unit: str = "mcg/kg/min") -> dict[str, Any]:
    return {"value": value, "unit": unit}


STEPS = {"step": rate(0.05), "every_min": 3, "most": rate(0.2), "goal": {"measure": "map", "floor": 65}}
START = {"treatment": DRIP, "route": "IV", "amount": rate(0.05), "action": "start", **OF_BAG}


@pytest.fixture
def story(cast: Any, monkeypatch: Any) -> Story:
    told = Story(cast, monkeypatch).open()
    told.read(sbp=80, dbp=40, lungs="clear")
    return told


def place(story: Story, **more: Any) -> dict[str, Any]:
    entry = {"at": story.time(None), "reason": "as agreed", **START, "titrate": STEPS, **more}
    return story.posted(f"cases/{story.case}/orders/", entry, story.physician)


def repeat(story: Story, order: str, **more: Any) -> dict[str, Any]:
    said = {"treatment": DRIP, "route": "IV", "amount": rate(0.05), "titrate": STEPS, **more}
    return story.posted(f"orders/{order}/readback/", said)


@pytest.mark.parametrize(("most", "codes"), [(0.3, set()), (0.6, {"above_most"})])
def test_a_request_tells_of_its_maximum_what_the_check_tells(story: Story, most: float, codes: set[str]):
    """Who reads it sees what the page finds that checks it anew; 0.3 is above the usual start, but no start."""
    asked = {**START, "titrate": {**STEPS, "most": rate(most)}}
    request = story.posted(f"cases/{story.case}/orders/", {"at": story.time(None), "reason": "still low", **asked})
    check = story.posted(f"cases/{story.case}/checks/", {name: asked[name] for name in asked if name != "action"})

    told, found = ([(each["code"], each["text"]) for each in one["findings"]] for one in (request["check"], check))
    assert told == found
    assert {code for code, text in told if text.startswith("the maximum")} == codes


class Stepped:
    """The order placed, read back and started at noon."""

    def __init__(self, story: Story, **titrate: Any) -> None:
        self.story = story
        whole = {**STEPS, **titrate}
        self.id = place(story, titrate=whole)["id"]
        assert repeat(story, self.id, titrate=whole)["matches"]
        started = {"status": "running", "order": self.id, "container_ml": 250}
        self.runs = story.give(DRIP, "0.05 mcg/kg/min", concentration="16 mcg/mL", **started)

    def step(self, at: float, value: float, **named: Any) -> dict[str, str]:
        """A new rate by the order, after a pressure; what was found, by code with its level."""
        self.story.at(at)
        self.story.read(sbp=84, dbp=44)
        order = {"order": self.id} | named
        check = self.story.change(self.runs, amount=rate(value), **order)["check"]
        return {each["code"]: each["level"] for each in check["findings"]}

    @property
    def order(self) -> dict[str, Any]:
        return dict(self.story.crew.get(f"orders/{self.id}/").json())

    @property
    def stands(self) -> dict[str, Any]:
        return dict(self.story.card()["titrations"][0])

    @property
    def alarms(self) -> int:
        return sum(each["kind"] == "dose_outside_limits" for each in self.story.card()["alerts"])


@pytest.mark.parametrize(
    ("said", "differences"),
    [
        ({}, []),
        ({"titrate": {**STEPS, "step": rate(4, "mcg/min")}}, ["titrate.step"]),  # as it was ordered
        ({"titrate": {**STEPS, "every_min": "3.0"}}, []),
        ({"titrate": {**STEPS, "most": rate(0.3)}}, ["titrate.most"]),
        ({"titrate": {**STEPS, "every_min": 5}}, ["titrate.every_min"]),
        ({"titrate": {**STEPS, "goal": {"measure": "sbp", "floor": 65}}}, ["titrate.goal"]),
        ({"titrate": {**STEPS, "call_at": rate(0.2)}}, ["titrate.call_at"]),
        ({"amount": rate(0.1)}, ["amount"]),
        ({"action": "change"}, ["action"]),
    ],
)
def test_it_is_read_back_as_a_whole(story: Story, said: dict[str, Any], differences: list[str]):
    answer = repeat(story, place(story)["id"], **said)
    assert (answer["matches"], answer["differences"]) == (not differences, differences)


def test_a_read_back_without_the_steps_is_none(story: Story):
    order = place(story)["id"]
    said = {"treatment": DRIP, "route": "IV", "amount": rate(0.05)}
    refused(story.crew.post(f"orders/{order}/readback/", said), 422, "invalid", "/titrate")


@pytest.mark.parametrize(
    ("most", "bag", "code", "told"),
    [
        (rate(20), "16 mcg/mL", "above_hard_limit", "the maximum: 20 mcg/kg/min is over the hard limit of "),
        (
            rate(0.3),
            "16 mcg/mL",
            "leap",
            "the maximum: from 0.05 to 0.3 mcg/kg/min is 6 times as much: check the number",
        ),
        (rate(24, "mcg/min"), "16 mcg/mL", "leap", "the maximum, 24 mcg/min: from 0.05 to 0.3 mcg/kg/min is 6 times"),
        (rate(1), "4 mcg/mL", "rate_not_deliverable", "the maximum, 1 mcg/kg/min: 1,200 mL/h: pumps run at "),
    ],
)
def test_what_is_found_of_the_maximum_says_its_number(
    story: Story, most: dict[str, Any], bag: str, code: str, told: str
):
    """0.05 runs; by arithmetic 0.3 of it is 6 times, for 80 kg 24 mcg/min, and 1 of 4 mcg per mL 1,200 mL/h."""
    story.give(DRIP, "0.05 mcg/kg/min", concentration="16 mcg/mL", status="running", container_ml=250)
    steps = {**STEPS, "most": most}
    body = {"treatment": DRIP, "route": "IV", "amount": rate(0.05), "concentration": amount(bag), "new_rate": True}
    answer = story.physician.post(f"cases/{story.case}/checks/", {**body, "titrate": steps}).json()
    (found,) = (each["text"] for each in answer["findings"] if each["code"] == code)

    assert found.startswith(told), found


def test_each_step_inside_it_is_within(story: Story):
    loop = Stepped(story)
    for at, value in ((3, 0.1), (6, 0.15), (9, 0.2), (10, 0.1)):
        levels = loop.step(at, value)
        assert not {"needs_order", "over_hard_limit"} & set(levels.values()), levels

    assert (loop.order["state"], loop.order["given"], loop.order["expires_at"]) == ("read_back", 5, None)
    assert loop.alarms == 0


@pytest.mark.parametrize(
    ("at", "value", "code", "level"),
    [
        (2, 0.1, "too_soon", "needs_order"),
        (2.8, 0.1, "too_soon", None),  # 15 s of grace
        (2, 0.04, "too_soon", None),  # down at any time
        (3, 0.25, "above_most", "needs_order"),
        (3, 0.2, "above_most", None),
        (3, 0.15, "above_guide", "caution"),  # two steps at once are told
    ],
)
def test_what_is_outside_it_is_told_and_flagged(story: Story, at: float, value: float, code: str, level: str | None):
    loop = Stepped(story)
    found = loop.step(at, value)

    assert found.get(code) == level
    assert loop.alarms == (level == "needs_order")
    assert loop.order["given"] == (1 if level == "needs_order" else 2)


def test_it_does_not_run_out_while_it_runs_and_is_done_when_that_ends(story: Story):
    loop = Stepped(story)
    story.at(90)
    assert loop.order["state"] == "read_back"
    story.change(loop.runs, status="stopped")

    assert (loop.order["state"], story.card()["titrations"]) == ("given", [])


def test_before_it_is_started_it_runs_out_like_any_other(story: Story):
    order = place(story)["id"]
    repeat(story, order)
    story.at(11)
    assert story.crew.get(f"orders/{order}/").json()["state"] == "expired"


def test_withdrawing_ends_the_permission_and_not_the_drug(story: Story):
    loop = Stepped(story)
    story.at(2)
    story.posted(f"orders/{loop.id}/withdraw/", {"reason": "pressure came up"}, story.physician)
    (runs,) = story.card()["running"]
    assert (runs["status"], runs["amount"]["value"], story.card()["titrations"]) == ("running", 0.05, [])

    assert loop.step(6, 0.1)["order_not_read_back"] == "needs_order"
    assert loop.alarms == 1


def test_a_step_made_before_it_was_withdrawn_and_told_after_is_within(story: Story):
    loop = Stepped(story)
    story.at(5)
    story.posted(f"orders/{loop.id}/withdraw/", {"reason": "pressure came up"}, story.physician)
    story.at(6)
    check = story.change(loop.runs, at=4, amount=rate(0.1), order=loop.id)["check"]

    assert "order_not_read_back" not in {each["code"] for each in check["findings"]}
    assert loop.order["state"] == "withdrawn"


def test_a_rate_that_does_not_name_it_is_judged_without_it(story: Story):
    """By the standing limits alone: without a pressure since the last rate it needs an order."""
    loop = Stepped(story)
    story.at(4)
    check = story.change(loop.runs, amount=rate(0.1))["check"]
    assert check["verdict"] == "needs_order"


class TestTheCard:
    """What both sides count down to."""

    def test_the_next_step_with_its_pump_rate_and_time(self, story: Story):
        loop = Stepped(story)
        assert (loop.stands["now"], loop.stands["next"]) == (rate(0.05), rate(0.1))
        assert (loop.stands["now_pump"], loop.stands["next_pump"]) == (rate(15, "mL/h"), rate(30, "mL/h"))
        assert minute(loop.stands["next_at"]) == 3

        loop.step(4, 0.1)
        assert (loop.stands["next"]["value"], minute(loop.stands["next_at"])) == (0.15, 7)

    def test_the_last_step_ends_at_the_most(self, story: Story):
        loop = Stepped(story, most=rate(0.12))
        loop.step(3, 0.1)
        assert loop.stands["next"] == rate(0.12)
        loop.step(6, 0.12)
        assert (loop.stands["next"], loop.stands["at_most"]) == (None, True)

    def test_when_to_call_and_when_no_step_is_needed(self, story: Story):
        loop = Stepped(story, call_at=rate(0.1))
        assert (loop.stands["call"], loop.stands["at_goal"]) == (False, False)
        loop.step(3, 0.1)
        assert (loop.stands["call"], loop.stands["at_goal"]) == (True, False)
        story.at(5)
        story.read(sbp=95, dbp=50)  # MAP 65
        assert loop.stands["at_goal"]

    def test_well_above_the_goal_it_says_by_how_much_and_a_lower_rate_is_within_the_order(self, story: Story):
        """The margin is the rule set's own, a local choice: here 15 mmHg above a goal of MAP 65."""
        loop = Stepped(story)
        loop.step(3, 0.1)
        story.at(5)
        story.read(sbp=119, dbp=60)  # MAP 79.67
        assert loop.stands["well_above_by"] is None
        story.at(6)
        story.read(sbp=120, dbp=60)  # MAP 80
        assert (loop.stands["well_above_by"], loop.stands["at_goal"]) == (15, True)

        assert "needs_order" not in loop.step(6.5, 0.05).values()
        assert loop.alarms == 0

    def test_held_there_is_none(self, story: Story):
        loop = Stepped(story)
        story.change(loop.runs, status="held")
        assert (loop.stands["held"], loop.stands["next"]) == (True, None)


def test_what_runs_already_is_stepped_up_by_a_change(story: Story):
    runs = story.give(DRIP, "0.05 mcg/kg/min", concentration="16 mcg/mL", status="running", prior=True)
    about = {"treatment": DRIP, "action": "change", "intervention": runs["id"], "amount": rate(0.1), "titrate": STEPS}
    order = story.posted(
        f"cases/{story.case}/orders/", {"at": story.time(None), "reason": "low", **about}, story.physician
    )["id"]
    said = {name: about[name] for name in ("treatment", "action", "amount", "titrate")}
    assert story.posted(f"orders/{order}/readback/", said)["expires_at"] is None
    assert story.card()["titrations"][0]["next"] == rate(0.1)

    first = story.change(runs, amount=rate(0.1), order=order)["check"]
    assert first["verdict"] in ("within", "caution")
    newer = story.posted(
        f"cases/{story.case}/orders/", {"at": story.time(None), "reason": "low", **about}, story.physician
    )["id"]
    story.posted(f"orders/{newer}/readback/", said)
    assert [each["order"] for each in story.card()["titrations"]] == [newer]  # one permission at a time


@pytest.mark.parametrize(
    ("action", "amount"),
    [("change", {"amount": rate(0.2)}), ("hold", {}), ("stop", {})],
    ids=["change", "hold", "stop"],
)
def test_a_newer_order_without_steps_ends_the_permission_once_it_is_read_back(
    story: Story, action: str, amount: dict[str, Any]
):
    loop = Stepped(story, most=rate(0.25))
    about = {"treatment": DRIP, "action": action, "intervention": loop.runs["id"], **amount}
    placed = {"at": story.time(None), "reason": "no steps", **about}
    newer = story.posted(f"cases/{story.case}/orders/", placed, story.physician)["id"]
    (stands,) = story.card()["titrations"]
    assert (stands["order"], stands["newer"], stands["next"], stands["next_at"]) == (loop.id, newer, None, None)

    story.posted(f"orders/{newer}/readback/", {"treatment": DRIP, "action": action, **amount})
    assert (loop.order["state"], story.card()["titrations"]) == ("withdrawn", [])
    last = loop.order["steps"][-1]
    assert (last["step"], "replaced by a newer order" in last["reason"]) == ("ended by itself", True)
    assert held(loop.order) == "ENDED: do not give more", "nobody has withdrawn it"
    assert [each["id"] for each in story.card()["orders"]] == [newer]


def test_a_request_for_it_may_be_changed(story: Story):
    entry = {"at": story.time(None), "reason": "low", **START, "titrate": STEPS}
    asked = story.posted(f"cases/{story.case}/orders/", entry)["id"]
    less = {**STEPS, "most": rate(0.15)}
    decided = story.posted(
        f"orders/{asked}/decision/", {"decision": "change", "titrate": less, "reason": "stay low"}, story.physician
    )

    assert (decided["state"], decided["titrate"]["most"]) == ("approved", rate(0.15))
    assert "most 0.15 mcg/kg/min" in decided["shown"]
    assert "most 0.2 mcg/kg/min" in decided["asked_for"]


@pytest.mark.parametrize(("said", "left"), [({"titrate": None}, False), ({}, True)])
def test_the_steps_of_a_request_stay_until_they_are_taken_away(story: Story, said: dict[str, Any], left: bool):
    entry = {"at": story.time(None), "reason": "low", **START, "titrate": STEPS}
    asked = story.posted(f"cases/{story.case}/orders/", entry)["id"]
    answer = {"decision": "change", "amount": rate(0.04), "reason": "no steps", **said}
    decided = story.posted(f"orders/{asked}/decision/", answer, story.physician)

    assert (decided["titrate"] is not None, "up by" in decided["shown"]) == (left, left)
    assert "up by 0.05 mcg/kg/min" in decided["asked_for"]
    back = {"titrate": STEPS} if left else {}
    assert story.posted(f"orders/{asked}/readback/", {"treatment": DRIP, "route": "IV", "amount": rate(0.04), **back})[
        "matches"
    ]


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"titrate": {**STEPS, "step": rate(0.05, "mcg")}}, "/titrate/step"),
        ({"titrate": {**STEPS, "step": rate(0.05, "units/min")}}, "/titrate/step"),
        ({"titrate": {**STEPS, "most": rate(0.04)}}, "/titrate/most"),
        ({"titrate": {**STEPS, "most": rate(3, "mcg/min")}}, "/titrate/most"),  # 0.0375 at 80 kg
        ({"titrate": {**STEPS, "call_at": rate(0.21)}}, "/titrate/call_at"),
        ({"titrate": {**STEPS, "every_min": 0}}, "/titrate/every_min"),
        ({"titrate": {**STEPS, "goal": {"measure": "map", "floor": 39}}}, "/titrate/goal/floor"),
        ({"titrate": {**STEPS, "goal": {"measure": "sbp", "floor": 221}}}, "/titrate/goal/floor"),
        ({"action": "give"}, "/titrate"),
        ({"action": "hold", "intervention": new_id()}, "/titrate"),
        ({"repeat": {"times": 2}}, "/repeat"),
        ({"treatment": "epinephrine-push-dose", "amount": rate(10, "mcg"), "concentration": None}, "/titrate"),
    ],
)
def test_what_makes_no_sense_is_refused_where_it_stands(story: Story, wrong: dict[str, Any], pointer: str):
    entry = {"at": story.time(None), "reason": "low", **START, "titrate": STEPS, **wrong}
    body = {name: value for name, value in entry.items() if value is not None}
    refused(story.physician.post(f"cases/{story.case}/orders/", body), 422, "invalid", pointer)


def test_steps_that_lead_beyond_a_hard_limit_are_refused(story: Story):
    entry = {"at": story.time(None), "reason": "low", **START, "titrate": {**STEPS, "most": rate(20)}}
    refused(story.physician.post(f"cases/{story.case}/orders/", entry), 422, "hard-limit", "/titrate/most")


def test_a_start_entered_in_error_leaves_the_order_to_be_started(story: Story):
    loop = Stepped(story)
    loop.step(3, 0.1)
    story.correct("intervention", loop.runs)

    assert (loop.order["state"], loop.order["given"], loop.order["intervention"]) == ("read_back", 0, None)
    assert minute(loop.order["expires_at"]) == 13
