"""A drug that the rules have, told as another drug by some name: refused while it is asked for, never once given."""

from __future__ import annotations

from typing import Any

import pytest

from consult.models import Intervention, Order
from tests.api.conftest import ago, mcg, new_id, push_dose, refused

IV = {"treatment": "other", "route": "IV"}


def per_min(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mcg/min"}


ADRENALINE = {**IV, "name": "Adrenaline", "amount": mcg(10)}
LEVOPHED = {**IV, "name": "Levophed", "amount": per_min(8)}


def given(body: dict[str, Any], seconds_ago: float = 1, **more: Any) -> dict[str, Any]:
    return {"id": new_id(), "given_at": ago(seconds=seconds_ago), **body, **more}


def order(body: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"id": new_id(), "at": ago(seconds=1), "reason": "pressure still low", **body, **more}


def codes(check: dict[str, Any]) -> dict[str, str]:
    return {each["code"]: each["level"] for each in check["findings"]}


def card(cast, case) -> dict[str, Any]:
    return cast.crew.get(f"cases/{case}/").json()


@pytest.mark.parametrize("name", ["Adrenaline", "EPINEPHrine", "epi 1 mg", "Nor-adrenaline", "Levophed", "Ketalar"])
@pytest.mark.parametrize("by", ["crew", "physician"])
def test_what_is_asked_for_or_ordered_by_such_a_name_is_refused_and_leads_to_its_treatment(cast, case, by, name):
    answer = getattr(cast, by).post(f"cases/{case}/orders/", order(ADRENALINE, name=name))

    problem = refused(answer, 422, "invalid", "/name")
    assert problem["errors"][0]["code"] == "in_rule_set"
    slug = {"N": "norepinephrine-infusion", "L": "norepinephrine-infusion", "K": "ketamine"}
    assert f"({slug.get(name[0], 'epinephrine-push-dose')})" in problem["detail"]
    assert not Order.objects.exists()


def test_so_is_a_check_and_each_in_a_batch(cast, case):
    refused(cast.crew.post(f"cases/{case}/checks/", LEVOPHED), 422, "invalid", "/name")
    entry = {"kind": "order", "case": case, **order(LEVOPHED)}
    (told,) = cast.crew.post("batch/", {"sent_at": ago(), "entries": [entry]}).json()["results"]

    assert (told["status"], told["problem"]["errors"][0]["code"]) == (422, "in_rule_set")


def test_an_order_to_stop_what_runs_under_such_a_name_is_taken(cast, case):
    drug = {"treatment": "other", "name": "Levophed"}
    told = {"given_at": ago(seconds=2), "status": "running", "route": "IV", "amount_text": "5 mL/h", **drug}
    running = cast.crew.post(f"cases/{case}/interventions/", {"id": new_id(), **told}).json()["id"]
    body = {"id": new_id(), "at": ago(seconds=1), "action": "stop", "intervention": running, **drug}

    assert cast.physician.post(f"cases/{case}/orders/", body).status_code == 201


def test_what_was_given_is_judged_and_counted_as_the_treatment_that_it_is(cast, case):
    first = cast.crew.post(f"cases/{case}/interventions/", given(ADRENALINE, 60))
    assert (first.status_code, first.json()["treatment"], first.json()["name"]) == (201, "other", "Adrenaline")
    assert codes(first.json()["check"])["not_in_rule_set"] == "caution"
    assert first.json()["reassessment"]["because"] == "EPINEPHrine push dose"

    second = cast.crew.post(f"cases/{case}/interventions/", push_dose()).json()["check"]
    assert codes(second)["too_soon"] == codes(second)["no_pressure_since_last_dose"] == "needs_order"

    (line,) = card(cast, case)["given"]
    assert (line["treatment"], line["count"], line["total"]) == ("epinephrine-push-dose", 2, mcg(20))
    assert card(cast, case)["doses"][0]["shown"] == "EPINEPHrine push dose 10 mcg IV, entered as “Adrenaline”"


def test_beyond_a_hard_limit_it_is_kept_and_raises_the_alert(cast, case):
    answer = cast.crew.post(f"cases/{case}/interventions/", given(ADRENALINE, amount={"value": 1, "unit": "mg"}))

    assert (answer.status_code, answer.json()["check"]["verdict"]) == (201, "over_hard_limit")
    (alert,) = [each for each in card(cast, case)["alerts"] if each["kind"] == "dose_outside_limits"]
    assert "entered as “Adrenaline”" in alert["text"]


def test_an_infusion_runs_as_the_treatment_that_it_is_and_its_rate_is_judged(cast, case):
    running = cast.crew.post(f"cases/{case}/interventions/", given(LEVOPHED, status="running")).json()
    (runs,) = card(cast, case)["running"]
    assert runs["treatment"] == "norepinephrine-infusion"

    changed = cast.crew.post(f"interventions/{running['id']}/changes/", {"id": new_id(), "amount": per_min(500)})
    assert changed.json()["check"]["verdict"] == "over_hard_limit"
    later = cast.crew.post(f"interventions/{running['id']}/changes/", {"id": new_id(), "status": "stopped"})
    assert later.status_code == 201


def test_a_dose_told_late_is_judged_by_it_and_judges_the_doses_after_it_anew(cast, case):
    after = push_dose(given_at=ago(seconds=30))
    cast.crew.post(f"cases/{case}/interventions/", after)
    cast.crew.post(f"cases/{case}/interventions/", given(ADRENALINE, 60))
    assert Intervention.objects.get(uid=after["id"]).judged_anew["verdict"] == "needs_order"

    cast.crew.post(f"cases/{case}/interventions/", given(ADRENALINE, 90))
    told = Intervention.objects.filter(treatment="epinephrine-push-dose").order_by("given_at")
    assert [bool(each.judged_anew) for each in told] == [False, True, True]


@pytest.mark.parametrize(
    "body",
    [
        {"treatment": "other", "name": "Adrenaline", "amount": {"value": 0.5, "unit": "mg"}, "route": "SC"},
        {"treatment": "other", "name": "Adrenaline", "amount_text": "one ampoule", "route": "IV"},
        {"treatment": "other", "name": "Adrenaline", "amount_text": "some mcg"},
        {"treatment": "other", "name": "Levophed", "amount": {"value": 5, "unit": "mL/h"}, "route": "IV"},
    ],
    ids=["by a route that the rules lack", "in words", "without a route", "a pump rate alone"],
)
def test_what_fits_no_treatment_of_the_rules_keeps_its_name_and_raises_an_alert_that_names_them(cast, case, body):
    answer = cast.crew.post(f"cases/{case}/interventions/", given(body))

    assert answer.status_code == 201
    assert codes(answer.json()["check"]) == {"not_in_rule_set": "needs_order"}
    (alert,) = [each for each in card(cast, case)["alerts"] if each["kind"] == "dose_outside_limits"]
    assert body["name"] in alert["text"]
    assert "in the rules as" in alert["text"]


@pytest.mark.parametrize(
    "body",
    [
        {"treatment": "other", "name": "calcium", "amount": {"value": 1, "unit": "g"}, "route": "IV"},
        {"treatment": "other", "name": "magnesium", "amount_text": "2 g over 10 min", "route": "IV"},
        {"treatment": "other", "name": "tranexamic acid", "amount_text": "one gram", "route": "IV"},
    ],
    ids=["one of two drugs", "in words", "in words without a number"],
)
def test_what_is_no_pressor_sedative_or_opioid_is_a_caution_that_names_them(cast, case, body):
    """Contract, "Interventions": a drug outside the rule set is kept, with a caution."""
    answer = cast.crew.post(f"cases/{case}/interventions/", given(body))

    assert answer.status_code == 201
    assert codes(answer.json()["check"]) == {"not_in_rule_set": "caution"}
    assert "in the rules as" in answer.json()["check"]["findings"][0]["text"]
    assert "dose_outside_limits" not in {each["kind"] for each in card(cast, case)["alerts"]}


def test_what_others_gave_before_counts_and_raises_nothing(cast, case):
    before = given(ADRENALINE, 60, prior=True, prior_by="other_crew", amount={"value": 1, "unit": "mg"})
    cast.crew.post(f"cases/{case}/interventions/", before)
    cast.crew.post(f"cases/{case}/interventions/", given({**IV, "name": "calcium", "amount_text": "1 amp"}, prior=True))

    shown = card(cast, case)
    assert [each["kind"] for each in shown["alerts"] if each["kind"] == "dose_outside_limits"] == []
    assert {each["treatment"] for each in shown["given"]} == {"epinephrine-push-dose", "other"}


def test_an_order_of_before_the_rules_knew_the_name_is_not_approved_but_one_read_back_is_carried_out(
    cast, case, monkeypatch
):
    from consult.case.decide import by_name

    with monkeypatch.context() as unknown:
        unknown.setattr(by_name, "named", lambda *_: None)
        asked = cast.crew.post(f"cases/{case}/orders/", order(LEVOPHED)).json()
        placed = cast.physician.post(f"cases/{case}/orders/", order(LEVOPHED)).json()
    refused(cast.physician.post(f"orders/{asked['id']}/decision/", {"decision": "approve"}), 422, "invalid", "/name")

    said = cast.crew.post(f"orders/{placed['id']}/readback/", LEVOPHED).json()
    assert said["matches"] is True
    done = cast.crew.post(f"cases/{case}/interventions/", given(LEVOPHED, status="running", order=placed["id"])).json()
    assert codes(done["check"])["starts_by_order"] == "caution"
    assert cast.crew.get(f"orders/{placed['id']}/").json()["state"] == "given"
