"""Orders that two physicians stand for: beyond a hard limit, or where the rule set asks for a second one.

The hard limit of push-dose epinephrine is 100 mcg, the standing limit 20 (the demonstration rule set). That two
physicians may pass a hard limit with a typed reason is the contract's ("Orders"); common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.api.conftest import mcg, new_id, refused
from tests.api.story import Story, codes

PUSH = "epinephrine-push-dose"
WHY = "no answer to three doses of 50 mcg, arterial line in"
HIGH_INSULIN = {
    "treatment": "insulin-high-dose",
    "amount": {"value": 1, "unit": "units/kg/h"},
    "concentration": {"value": 10, "unit": "units/mL"},
    "route": "IV",
    "action": "start",
}


@pytest.fixture
def story(cast: Any, monkeypatch: Any) -> Story:
    told = Story(cast, monkeypatch).open()
    told.read(sbp=80, dbp=40, lungs="clear", hr=90, rr=16, spo2=96, glucose_mg_dl=150)
    return told


def placed(story: Story, value: float = 150, **more: Any) -> dict[str, Any]:
    entry = {"treatment": PUSH, "amount": mcg(value), "route": "IV", "reason": "as discussed", **more}
    return story.posted(f"cases/{story.case}/orders/", entry, story.physician)


def cosigned(story: Story, cast: Any, order: dict[str, Any]) -> dict[str, Any]:
    return story.posted(f"orders/{order['id']}/cosign/", {"reason": "agreed by telephone"}, cast.physician2)


def read_back(story: Story, order: dict[str, Any], value: float = 150) -> Any:
    said = {"id": new_id(), "treatment": PUSH, "route": "IV", "amount": mcg(value)}
    return story.crew.post(f"orders/{order['id']}/readback/", said)


def test_beyond_a_hard_limit_an_order_waits_for_a_second_physician(story: Story, cast: Any):
    order = placed(story, hard_limit_reason=WHY)
    assert (order["state"], order["waiting_for"], order["hard_limit_reason"]) == ("approved", "cosign", WHY)
    assert refused(read_back(story, order), 409, "wrong-state")["detail"].startswith("The order waits for a second")

    signed = cosigned(story, cast, order)
    assert (signed["state"], signed["waiting_for"], signed["cosigned_by"]) == ("approved", None, "Dr. Quillan")
    assert signed["cosign_reason"] == "agreed by telephone"
    assert read_back(story, order).json()["state"] == "read_back"

    check = story.give(PUSH, "150 mcg", at=0, order=order["id"])["check"]
    (hard,) = [each for each in check["findings"] if each["code"] == "above_hard_limit"]
    assert (check["verdict"], hard["level"]) == ("caution", "caution")
    assert hard["text"].startswith("ordered by Dr. Merrin, co-signed by Dr. Quillan: ")
    assert "dose_outside_limits" not in {each["kind"] for each in story.card()["alerts"]}


def test_a_request_is_decided_beyond_a_hard_limit_in_the_same_way(story: Story, cast: Any):
    asked = {"treatment": PUSH, "amount": mcg(30), "route": "IV", "reason": "no response to fluid"}
    order = story.posted(f"cases/{story.case}/orders/", asked)
    change = {"decision": "change", "amount": mcg(150), "reason": "start higher"}
    address = f"orders/{order['id']}/decision/"
    refused(story.physician.post(address, {"id": new_id(), **change}), 422, "hard-limit")
    decided = story.posted(address, {**change, "hard_limit_reason": WHY}, story.physician)

    assert (decided["waiting_for"], decided["asked_for"]) == ("cosign", order["shown"])
    assert cosigned(story, cast, decided)["waiting_for"] is None


@pytest.mark.parametrize(
    ("given", "verdict", "alarms"), [("150 mcg", "caution", False), ("160 mcg", "over_hard_limit", True)]
)
def test_a_co_sign_covers_what_was_ordered_and_no_more(story: Story, cast: Any, given: str, verdict: str, alarms: bool):
    order = placed(story, hard_limit_reason=WHY)
    cosigned(story, cast, order)
    read_back(story, order)

    assert story.give(PUSH, given, at=0, order=order["id"])["check"]["verdict"] == verdict
    assert ("dose_outside_limits" in {each["kind"] for each in story.card()["alerts"]}) is alarms


def test_what_is_given_before_the_co_sign_is_outside_the_limits(story: Story):
    order = placed(story, hard_limit_reason=WHY)
    check = story.give(PUSH, "150 mcg", at=0, order=order["id"])["check"]

    assert {"above_hard_limit", "order_not_read_back"} <= codes(check)
    assert "the order waits for a second physician" in {each["text"] for each in check["findings"]}


# Contract: "never a wrong route or stock"; by the same thought never a time, a phase or what speaks against the drug.
@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"route": "IM"}, "IM"),
        ({"amount": mcg(10), "route": "IM"}, "IM"),
        ({"stock": {"value": 1, "unit": "mg/mL"}}, "1 mg per mL"),
    ],
    ids=["route and amount", "route alone", "stock"],
)
def test_no_co_sign_passes_a_wrong_route_or_stock(story: Story, wrong: dict[str, Any], words: str):
    entry = {"id": new_id(), "treatment": PUSH, "amount": mcg(150), "route": "IV", "reason": "as discussed", **wrong}
    answer = story.physician.post(f"cases/{story.case}/orders/", {**entry, "hard_limit_reason": WHY})
    detail = refused(answer, 422, "hard-limit")["detail"]
    assert words in detail
    assert "hard limit of 100 mcg" not in detail


def test_the_rule_set_asks_for_a_second_physician(story: Story, cast: Any):
    order = placed(story, **HIGH_INSULIN)
    assert (order["state"], order["waiting_for"], order["hard_limit_reason"]) == ("approved", "cosign", None)
    assert cosigned(story, cast, order)["waiting_for"] is None

    running = story.give("insulin-high-dose", "1 units/kg/h", status="running", concentration="10 units/mL")
    stop = {"treatment": "insulin-high-dose", "action": "stop", "reason": "done", "intervention": running["id"]}
    assert story.posted(f"cases/{story.case}/orders/", stop, story.physician)["waiting_for"] is None


# Minutes from the order at noon: alarm after 3 (as a request), expiry after 10, counted anew from the co-sign.
def test_a_co_sign_that_waits_raises_an_alarm_and_the_order_runs_out(story: Story, cast: Any):
    order = placed(story, hard_limit_reason=WHY)

    def alarms() -> set[str]:
        return {each["kind"] for each in story.card()["alerts"]}

    story.at(2.9)
    assert not alarms() & {"order_waiting", "readback_waiting"}
    story.at(3)
    (alarm,) = [each for each in story.card()["alerts"] if each["kind"] == "order_waiting"]
    assert (alarm["priority"], "waits for a second physician since 12:00" in alarm["text"]) == ("medium", True)
    story.at(5)
    cosigned(story, cast, order)
    assert not alarms() & {"order_waiting", "readback_waiting"}
    story.at(9)
    assert "readback_waiting" in alarms()  # 4 min after the co-sign, for it must be drawn up
    story.at(14.9)
    assert story.crew.get(f"orders/{order['id']}/").json()["state"] == "approved"
    story.at(15)
    assert story.crew.get(f"orders/{order['id']}/").json()["state"] == "expired"


def test_an_order_that_nobody_co_signed_says_so_when_it_has_run_out(story: Story):
    order = placed(story, hard_limit_reason=WHY)
    story.at(10)
    assert "not co-signed by a second physician" in story.crew.get(f"orders/{order['id']}/").json()["told"]


@pytest.mark.parametrize(("indication", "waits"), [("poisoning", "cosign"), ("potassium", None)])
def test_an_insulin_bolus_for_poisoning_is_cosigned(story: Story, indication: str, waits: str | None):
    """80 units in place of 10: as the infusion that follows it (our choice)."""
    amount = {"value": 80 if indication == "poisoning" else 5, "unit": "units"}
    entry = {
        "treatment": "insulin",
        "indication": indication,
        "amount": amount,
        "route": "IV",
        "reason": "as discussed",
    }
    order = story.posted(f"cases/{story.case}/orders/", entry, story.physician)

    assert order["waiting_for"] == waits


@pytest.mark.parametrize(("name", "waits"), [("potassium chloride", "cosign"), ("cefazolin", None)])
def test_a_concentrated_electrolyte_is_cosigned(story: Story, name: str, waits: str | None):
    """ISMP: high-alert (from memory); no limit of it is checked, so two physicians stand for it (our choice)."""
    amount = {"value": 10, "unit": "mEq"}
    entry = {"treatment": "other", "name": name, "amount": amount, "route": "IV", "reason": "as discussed"}

    assert story.posted(f"cases/{story.case}/orders/", entry, story.physician)["waiting_for"] == waits
