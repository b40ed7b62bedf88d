"""Orders about what runs, and a pause: contract, "Interventions" and "Orders".

A bag of 250 mL at 16 mcg/mL that gives 0.1 mcg/kg/min to 80 kg runs at 0.1 x 80 x 60 / 16 = 30 mL/h, by the dopamine
prescribing information (mL/h = mcg/kg/min x kg x 60 / (mcg/mL)): 0.5 mL a minute.
"""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from consult import clock
from consult.case import order_words
from consult.models import Case
from consult.render.handover import handover
from consult.render.journal import timeline
from consult.screens import crew_orders
from consult.screens.crew_news import news
from consult.state.parts import Order
from tests.api.conftest import new_id, refused
from tests.api.story import Story, minute

DRIP, OTHER_DRIP = "norepinephrine-infusion", "epinephrine-infusion"
BAG = {"concentration": "16 mcg/mL", "container_ml": 250}
RATE, MORE = ({"value": value, "unit": "mcg/kg/min"} for value in (0.1, 0.2))


def about(runs: dict[str, Any], action: str, **more: Any) -> dict[str, Any]:
    return {"treatment": DRIP, "action": action, "intervention": runs["id"], "reason": "as agreed", **more}


def ordered(story: Story, runs: dict[str, Any], action: str, **more: Any) -> str:
    entry = {"at": story.time(None), **about(runs, action, **more)}
    return str(story.posted(f"cases/{story.case}/orders/", entry, story.physician)["id"])


def read_back(story: Story, order: str, action: str, **more: Any) -> dict[str, Any]:
    return story.posted(f"orders/{order}/readback/", {"treatment": DRIP, "action": action, **more})


def order_of(story: Story, order: str) -> Order:
    return msgspec.convert(story.crew.get(f"orders/{order}/").json(), Order)


def state(story: Story, order: str) -> str:
    return str(story.crew.get(f"orders/{order}/").json()["state"])


def bag(story: Story) -> dict[str, Any]:
    return dict(story.card()["in_hand"][0])


@pytest.mark.parametrize(
    ("action", "more", "said", "change"),
    [
        ("hold", {}, {}, {"status": "held"}),
        ("hold", {}, {}, {"status": "stopped"}),
        ("stop", {}, {}, {"status": "stopped"}),
        ("stop", {}, {}, {"status": "finished"}),
        ("change", {"amount": MORE}, {"amount": MORE}, {"amount": MORE}),
        (
            "change",
            {"amount": MORE},
            {"concentration": {"value": 16, "unit": "mcg/mL"}, "rate": {"value": 60, "unit": "mL/h"}},
            {"amount": MORE},
        ),
    ],
)
def test_each_goes_round_by_the_change_that_names_it(
    story: Story, runs: dict[str, Any], action: str, more: dict[str, Any], said: dict[str, Any], change: dict[str, Any]
):
    order = ordered(story, runs, action, **more)
    assert read_back(story, order, action, **said)["matches"]
    story.at(1)
    story.change(runs, order=order, **change)

    assert (state(story, order), story.card()["orders"]) == ("given", [])


@pytest.mark.parametrize(
    ("said", "differences"),
    [
        ({"action": "stop"}, ["action"]),
        ({"treatment": OTHER_DRIP}, ["treatment"]),
        ({"amount": RATE}, ["amount"]),
        ({"action": "hold", "amount": RATE}, ["action", "amount"]),
    ],
)
def test_what_is_read_back_otherwise_differs(
    story: Story, runs: dict[str, Any], said: dict[str, Any], differences: list[str]
):
    order = ordered(story, runs, "change", amount=MORE)
    answer = story.posted(f"orders/{order}/readback/", {"treatment": DRIP, "action": "change", "amount": MORE, **said})
    assert answer["differences"] == differences


def test_a_read_back_without_what_to_do_is_none(story: Story, runs: dict[str, Any]):
    order = ordered(story, runs, "stop")
    refused(story.crew.post(f"orders/{order}/readback/", {"treatment": DRIP}), 422, "invalid", "/action")


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"intervention": new_id()}, "/intervention"),
        ({"treatment": OTHER_DRIP}, "/intervention"),
        ({"action": "start", "amount": RATE, "route": "IV"}, "/intervention"),
    ],
)
def test_an_order_means_what_runs_in_this_case(story: Story, runs: dict[str, Any], wrong: dict[str, Any], pointer: str):
    body = {"at": story.time(None), **about(runs, "stop"), **wrong}
    refused(story.physician.post(f"cases/{story.case}/orders/", body), 422, "invalid", pointer)


def test_what_has_ended_is_neither_ordered_nor_approved(story: Story, runs: dict[str, Any]):
    body = {"at": story.time(None), **about(runs, "hold")}
    asked = story.posted(f"cases/{story.case}/orders/", body)["id"]
    story.at(1)
    story.change(runs, status="finished")

    refused(story.physician.post(f"cases/{story.case}/orders/", body), 422, "invalid", "/intervention")
    refused(story.physician.post(f"orders/{asked}/decision/", {"decision": "approve"}), 409, "wrong-state")


def test_only_what_runs_at_a_rate_is_held_and_of_a_bolus_it_is_told_what_to_do_instead(story: Story):
    bolus = story.give("crystalloid-bolus", "500 mL", status="running", over_min=15)
    held = story.crew.post(f"interventions/{bolus['id']}/changes/", {"status": "held"})
    refused(held, 422, "invalid", "/status")
    assert (
        "record it as stopped with what went in, and start a new one when it continues"
        in held.json()["errors"][0]["detail"]
    )
    body = {**about(bolus, "hold"), "treatment": "crystalloid-bolus", "at": story.time(None)}
    ordered = story.physician.post(f"cases/{story.case}/orders/", body)
    refused(ordered, 422, "invalid", "/action")
    assert "order it stopped" in ordered.json()["errors"][0]["detail"]


def test_a_change_that_names_an_order_not_read_back_is_kept_and_flagged(story: Story, runs: dict[str, Any]):
    order = ordered(story, runs, "change", amount=MORE)
    check = story.change(runs, order=order, amount=MORE)["check"]

    assert "order_not_read_back" in {each["code"] for each in check["findings"] if each["level"] == "needs_order"}
    assert state(story, order) == "approved"
    (alarm,) = [each for each in story.card()["alerts"] if each["kind"] == "dose_outside_limits"]
    assert "not been read back" in alarm["text"]


@pytest.mark.parametrize(
    ("pump", "became"),
    [
        (60, "given"),  # 0.2 x 80 x 60 / 16
        (62, "read_back"),
        (30, "read_back"),
    ],
)
@pytest.mark.parametrize("named", [True, False])
def test_a_rate_told_as_the_pump_shows_it_carries_out_an_order_for_a_dose(
    story: Story, runs: dict[str, Any], pump: float, became: str, named: bool
):
    order = ordered(story, runs, "change", amount=MORE)
    read_back(story, order, "change", amount=MORE)
    story.at(1)
    story.change(runs, amount={"value": pump, "unit": "mL/h"}, **({"order": order} if named else {}))

    assert state(story, order) == became


@pytest.mark.parametrize(("pump", "became"), [(61.2, "given"), (61.1, "read_back"), (61.3, "read_back")])
def test_as_near_as_a_pump_is_set_is_the_rate_ordered(story: Story, runs: dict[str, Any], pump: float, became: str):
    """0.204 mcg/kg/min are 61.2 mL/h; the demonstration's pump sets steps of 0.1 mL/h."""
    amount = {"value": 0.20405, "unit": "mcg/kg/min"}  # 61.215
    order = ordered(story, runs, "change", amount=amount)
    read_back(story, order, "change", amount=amount)
    story.change(runs, amount={"value": pump, "unit": "mL/h"}, order=order)

    assert state(story, order) == became


@pytest.mark.parametrize("end", ["stopped", "finished"])
def test_what_has_ended_takes_the_open_orders_about_it_along(story: Story, runs: dict[str, Any], end: str):
    """The order that the end carries out is given; a new rate and a request about what is gone are not left open."""
    stop, rate = ordered(story, runs, "stop"), ordered(story, runs, "change", amount=MORE)
    read_back(story, stop, "stop")
    read_back(story, rate, "change", amount=MORE)
    asked = story.posted(f"cases/{story.case}/orders/", {"at": story.time(None), **about(runs, "hold")})["id"]
    story.at(1)
    story.change(runs, status=end, order=stop)

    assert [state(story, each) for each in (stop, rate, asked)] == ["given", "withdrawn", "withdrawn"]
    assert story.card()["orders"] == []
    assert "no longer running" in story.crew.get(f"orders/{rate}/").json()["steps"][-1]["reason"]
    for each in (rate, asked):
        told = order_words.told(order_of(story, each), clock.utc)
        assert told == "ended automatically at 12:01 UTC: what it was about is no longer running", (
            "nobody has withdrawn it"
        )
    assert order_words.told(order_of(story, stop), clock.utc) == "carried out by J. Osk at 12:01 UTC"


def test_a_start_that_may_be_stepped_up_keeps_the_time_it_was_carried_out(story: Story):
    """What was begun by it is held, then stopped: that ends the permission, and is not when it was given."""
    start = {"at": story.time(None), "treatment": DRIP, "action": "start", "amount": RATE, "route": "IV"}
    steps = {"titrate": {"step": RATE, "every_min": 5, "most": MORE, "goal": {"measure": "map", "floor": 65}}}
    order = story.posted(f"cases/{story.case}/orders/", {**start, "reason": "low", **steps}, story.physician)["id"]
    read_back(story, order, "start", amount=RATE, route="IV", **steps)
    story.at(1)
    dose = story.give(DRIP, "0.1 mcg/kg/min", status="running", order=order, **BAG)
    story.at(4)
    story.change(dose, status="held")
    story.at(8)
    story.change(dose, status="stopped")

    stood = order_of(story, order)
    assert stood.state == "given"
    told = "given at 12:01 UTC, ended automatically at 12:08 UTC: what it was about is no longer running"
    assert order_words.told(stood, clock.utc) == told
    assert order_words.sentence(stood).startswith(
        "the order was given at 12:01:00 UTC, ended automatically at 12:08:00"
    )
    (shown,) = crew_orders.ended(Case.objects.get(uid=story.case))
    assert (shown["state_word"], shown["became"][:9]) == ("Given", "Given at ")


def test_a_withdrawal_that_nobody_made_is_told_as_none(story: Story, runs: dict[str, Any]):
    asked = story.posted(f"cases/{story.case}/orders/", {"at": story.time(None), **about(runs, "hold")})["id"]
    story.change(runs, status="stopped")
    (shown,) = crew_orders.ended(Case.objects.get(uid=story.case))
    (line,) = [
        each
        for each in story.crew.get(f"cases/{story.case}/journal/").json()["results"]
        if each["kind"] == "order.ended"
    ]

    assert state(story, asked) == "withdrawn"
    assert shown["state_word"] == "Ended automatically"
    assert timeline([line])[0]["lead"] == "Order ended automatically"


@pytest.mark.parametrize("who", ["crew", "physician"])
def test_what_was_entered_in_error_takes_the_open_orders_about_it_along(story: Story, runs: dict[str, Any], who: str):
    """Nothing is left to read back, hold or step up of what never ran; where a physician says so, the crew is told."""
    stop, rate = ordered(story, runs, "stop"), ordered(story, runs, "change", amount=MORE)
    read_back(story, stop, "stop")
    asked = story.posted(f"cases/{story.case}/orders/", {"at": story.time(None), **about(runs, "hold")})["id"]
    story.at(1)
    target = {"kind": "intervention", "id": runs["id"]}
    body = {"target": target, "reason": "another patient's pump"}
    story.posted(f"cases/{story.case}/corrections/", body, getattr(story, who))

    assert [state(story, each) for each in (stop, rate, asked)] == ["withdrawn"] * 3
    assert story.card()["orders"] == []
    ends = [each for each in news(story.crew.actor, clock.now()) if each["ends"]]
    assert len(ends) == (3 if who == "physician" else 0), "who ended them oneself needs no news of it"
    assert {each["lead"] for each in ends} <= {"ENDED: do not carry it out"}
    assert all("entered in error" in each["why"] for each in ends)
    for each in (stop, rate, asked):
        told = order_words.told(order_of(story, each), clock.utc)
        assert told == "ended automatically at 12:01 UTC: what it was about was entered in error", (
            "nobody has withdrawn it"
        )


def test_the_order_by_which_it_was_begun_is_open_again(story: Story):
    start = {"at": story.time(None), "treatment": DRIP, "action": "start", "amount": RATE, "route": "IV"}
    steps = {"titrate": {"step": RATE, "every_min": 5, "most": MORE, "goal": {"measure": "map", "floor": 65}}}
    order = story.posted(f"cases/{story.case}/orders/", {**start, "reason": "low", **steps}, story.physician)["id"]
    said = {"amount": RATE, "route": "IV", **steps}
    assert read_back(story, order, "start", **said)["matches"]
    dose = story.give(DRIP, "0.1 mcg/kg/min", status="running", order=order, **BAG)
    body = {"target": {"kind": "intervention", "id": dose["id"]}, "reason": "not connected"}
    story.posted(f"cases/{story.case}/corrections/", body)

    assert state(story, order) == "read_back"
    assert [each["intervention"] for each in story.card()["orders"]] == [None]


class TestHeld:
    """A pause draws nothing, counts no dose, asks for no further pressure; it is told as such."""

    def test_it_draws_nothing_meanwhile(self, story: Story, runs: dict[str, Any]):
        story.at(10)
        story.change(runs, status="held")
        assert (bag(story)["left"]["value"], bag(story)["rate"], bag(story)["lasts_to"]) == (245, None, None)

        story.at(30)
        story.change(runs, status="running")
        assert (bag(story)["left"]["value"], bag(story)["rate"]) == (245, {"value": 30, "unit": "mL/h"})
        story.at(40)
        story.change(runs, status="stopped")
        assert bag(story)["left"]["value"] == 240

    def test_it_is_no_dose_and_no_other_rate(self, story: Story, runs: dict[str, Any]):
        for at, status in ((5, "held"), (8, "running"), (9, "held")):
            story.at(at)
            story.change(runs, status=status)
        (line,) = story.card()["given"]
        (now,) = story.card()["running"]

        assert (line["count"], now["status"], now["amount"], minute(now["changed_at"])) == (1, "held", RATE, 9)
        assert [each["amount"] for each in now["rates"]] == [RATE, None, RATE, None]

    def test_the_reading_after_it_is_the_last_that_is_asked_for(self, story: Story, runs: dict[str, Any]):
        story.at(10)
        story.read(sbp=100, dbp=60)
        story.change(runs, status="held")
        story.at(13)
        story.read(sbp=100, dbp=60)
        assert story.card()["reassessments"] == []

        story.at(25)
        assert "reassessment_overdue" not in {each["kind"] for each in story.card()["alerts"]}
        story.change(runs, status="running")
        assert [each["intervention"] for each in story.card()["reassessments"]] == [runs["id"]]

    def test_a_new_rate_ends_it_too(self, story: Story, runs: dict[str, Any]):
        story.change(runs, status="held")
        story.at(2)
        story.change(runs, amount={"value": 0.05, "unit": "mcg/kg/min"})
        (now,) = story.card()["running"]

        assert (now["status"], now["amount"]["value"], bag(story)["rate"]["value"]) == ("running", 0.05, 15)

    def test_twice_is_a_wrong_state(self, story: Story, runs: dict[str, Any]):
        story.change(runs, status="held")
        refused(story.crew.post(f"interventions/{runs['id']}/changes/", {"status": "held"}), 409, "wrong-state")

    def test_told_late_it_takes_its_place(self, story: Story, runs: dict[str, Any]):
        story.at(30)
        story.change(runs, at=20, amount={"value": 0.2, "unit": "mcg/kg/min"})
        story.change(runs, at=10, status="held")
        (now,) = story.card()["running"]

        assert (now["status"], now["amount"]["value"]) == ("running", 0.2)
        assert bag(story)["left"]["value"] == 245  # from noon to 10 min, and as it stood at 20 min

    def test_handover_and_a_second_infusion_say_so(self, story: Story, runs: dict[str, Any]):
        story.change(runs, status="held")
        running = next(part for part in handover(story.card(), clock.now()) if part["name"] == "Running")
        second = story.check(DRIP, "0.05 mcg/kg/min", concentration="16 mcg/mL")

        assert running["lines"][0][1:2] == [", HELD since "]
        (found,) = [each for each in second["findings"] if each["code"] == "infusion_running"]
        assert (found["level"], "is held, was at 0.1 mcg/kg/min" in found["text"]) == ("needs_order", True)


def test_a_second_infusion_names_what_runs_and_both_together(story: Story, runs: dict[str, Any]):
    """Physician's or crew's: the same drug twice is a decision of its own, a new rate is not."""
    second = story.check(DRIP, "0.05 mcg/kg/min", concentration="16 mcg/mL")
    anew = story.check(DRIP, "0.05 mcg/kg/min", concentration="16 mcg/mL", new_rate=True)
    (found,) = [each for each in second["findings"] if each["code"] == "infusion_running"]

    assert "0.1 mcg/kg/min" in found["text"]
    assert found["text"].endswith("0.15 mcg/kg/min in all")
    assert "infusion_running" not in {each["code"] for each in anew["findings"]}


def test_an_order_for_another_rate_is_checked_as_that_and_told_by_the_bag(story: Story, runs: dict[str, Any]):
    order = ordered(story, runs, "change", amount=MORE)
    told = story.crew.get(f"orders/{order}/").json()

    assert "infusion_running" not in {each["code"] for each in told["check"]["findings"]}
    assert told["check"]["give"]["rate"] == {"value": 60, "unit": "mL/h"}
    assert (told["route"], told["concentration"]) == ("IV", {"value": 16, "unit": "mcg/mL"})


def test_a_batch_takes_all_of_it(story: Story, runs: dict[str, Any]):
    asked, order = new_id(), ordered(story, runs, "hold")
    entries = [
        {"kind": "order", "id": asked, "case": story.case, "at": story.time(None), **about(runs, "stop")},
        {"kind": "readback", "order": order, "case": story.case, "treatment": DRIP, "action": "hold"},
        {"kind": "change", "intervention": runs["id"], "case": story.case, "status": "held", "order": order},
    ]
    body = {"sent_at": story.time(None), "entries": [{"id": new_id(), **each} for each in entries]}
    results = story.crew.post("batch/", body).json()["results"]

    assert [each["status"] for each in results] == [201, 200, 201]
    assert (state(story, asked), state(story, order)) == ("requested", "given")
