"""A drug that the rule set lacks is named wherever it is asked for, ordered, repeated, given; the name is compared."""

from __future__ import annotations

from typing import Any

import pytest

from consult import clock, queries
from consult.models import Case
from consult.render.handover import handover
from consult.render.journal import timeline
from tests.api.conftest import ago, new_id, refused

TWO_GRAMS = {"value": 2, "unit": "g"}
OTHER: dict[str, Any] = {"treatment": "other", "amount": TWO_GRAMS, "route": "IV"}
CEFAZOLIN = {**OTHER, "name": "cefazolin sodium"}


def order(**more: Any) -> dict[str, Any]:
    return {"id": new_id(), "at": ago(seconds=1), "reason": "open fracture", **CEFAZOLIN, **more}


def without_name(body: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in body.items() if key != "name"}


@pytest.mark.parametrize("by", ["crew", "physician"])
def test_an_order_or_a_request_without_a_name_is_refused(cast, case, by):
    refused(getattr(cast, by).post(f"cases/{case}/orders/", without_name(order())), 422, "invalid", "/name")
    refused(getattr(cast, by).post(f"cases/{case}/orders/", order(name=" ")), 422, "invalid", "/name")


@pytest.mark.parametrize("action", ["hold", "stop"])
def test_neither_does_one_to_stop_it(cast, case, action):
    body = {"id": new_id(), "at": ago(seconds=1), "treatment": "other", "action": action}
    refused(cast.physician.post(f"cases/{case}/orders/", body), 422, "invalid", "/name")


def test_an_intervention_and_a_read_back_without_a_name_are_refused(cast, case):
    given = {"id": new_id(), "given_at": ago(seconds=1), **OTHER}
    refused(cast.crew.post(f"cases/{case}/interventions/", given), 422, "invalid", "/name")
    placed = cast.physician.post(f"cases/{case}/orders/", order()).json()["id"]
    refused(cast.crew.post(f"orders/{placed}/readback/", OTHER), 422, "invalid", "/name")


def test_in_a_batch_too(cast, case):
    entry = {"kind": "order", "case": case, **without_name(order())}
    (told,) = cast.crew.post("batch/", {"sent_at": ago(), "entries": [entry]}).json()["results"]

    assert (told["status"], told["problem"]["errors"][0]["pointer"]) == (422, "/name")


@pytest.mark.parametrize("path", ["orders", "checks"])
def test_a_treatment_of_the_rules_has_no_name_of_its_own(cast, case, path):
    body = {"treatment": "atropine", "amount": {"value": 1, "unit": "mg"}, "route": "IV", "name": "atropine"}
    refused(cast.crew.post(f"cases/{case}/{path}/", body), 422, "invalid", "/treatment")


def test_a_check_takes_the_name_and_says_that_no_limit_was_checked(cast, case):
    told = cast.crew.post(f"cases/{case}/checks/", CEFAZOLIN).json()

    assert [finding["code"] for finding in told["findings"]] == ["not_in_rule_set"]


def test_the_name_stands_on_card_journal_handover_and_is_what_is_read_back_and_given(cast, case):
    asked = cast.crew.post(f"cases/{case}/orders/", order()).json()
    assert (asked["title"], asked["shown"]) == ("cefazolin sodium", "cefazolin sodium 2 g IV")
    cast.physician.post(f"orders/{asked['id']}/decision/", {"decision": "approve"})

    wrong = cast.crew.post(f"orders/{asked['id']}/readback/", {**OTHER, "name": "morphine sulfate"}).json()
    assert (wrong["matches"], wrong["differences"]) == (False, ["name"])
    row = Case.objects.get(uid=case)
    (line, *_) = (each for each in timeline(queries.journal(row)) if each["kind"] == "order.read_back")
    assert line["text"].endswith("said morphine sulfate 2 g IV")
    mismatch = next(alert for alert in card(cast, case)["alerts"] if alert["kind"] == "readback_mismatch")
    assert mismatch["text"] == "Read-back of cefazolin sodium does not match the order"

    right = cast.crew.post(f"orders/{asked['id']}/readback/", {**OTHER, "name": "Cefazolin  SODIUM"}).json()
    assert right["matches"] is True
    assert card(cast, case)["orders"][0]["shown"] == "cefazolin sodium 2 g IV"

    another = {"given_at": ago(seconds=1), **OTHER, "name": "calcium", "order": asked["id"]}
    cast.crew.post(f"cases/{case}/interventions/", {"id": new_id(), **another})
    assert card(cast, case)["orders"][0]["given"] == 0
    cast.crew.post(f"cases/{case}/interventions/", {"id": new_id(), **another, "name": "cefazolin sodium"})
    assert cast.crew.get(f"orders/{asked['id']}/").json()["state"] == "given"

    assert "cefazolin sodium 2 g IV" in str(handover(card(cast, case), clock.now()))


def card(cast, case) -> dict[str, Any]:
    return cast.crew.get(f"cases/{case}/").json()


def test_an_alert_names_what_waits(cast, case, monkeypatch):
    from consult.actions import alerts
    from tests.conftest import NOON

    cast.crew.post(f"cases/{case}/orders/", order())
    alerts.sweep(NOON.replace(year=2100))

    waiting = next(alert for alert in card(cast, case)["alerts"] if alert["kind"] == "order_waiting")
    assert waiting["text"].startswith("Request for cefazolin sodium waiting since")
