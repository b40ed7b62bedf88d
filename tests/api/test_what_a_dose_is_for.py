"""What a dose is for (contract, "a proposal": `indication`), under a draft whose drug is for sedation or a seizure."""

import pytest

from consult.actions import rule_sets
from tests.api.conftest import new_id, refused
from tests.api.story import Story, codes
from tests.conftest import NOON
from tests.dosing.test_for_what_and_by_route import DRAFT

DRUG = "exampline"


@pytest.fixture
def case(cast, monkeypatch, db):
    told = Story(cast, monkeypatch)
    director = cast.director
    rule_sets.adopt(director.actor, DRAFT, NOON, reason="tried", by_way_of="page")
    told.open()
    told.read(at=-1, sbp=122, dbp=78)
    return told


@pytest.mark.parametrize(
    ("more", "verdict"),
    [({}, "needs_order"), ({"indication": "sedation"}, "needs_order"), ({"indication": "seizure"}, "within")],
)
def test_a_check_a_dose_and_a_request_are_judged_by_what_they_are_for(case, more, verdict):
    assert case.check(DRUG, "4 mg", **more)["verdict"] == verdict
    asked = case.posted(f"cases/{case.case}/orders/", {"at": case.time(0), **case.dose(DRUG, "4 mg", **more)})
    assert (asked["check"]["verdict"], asked["indication"]) == (verdict, more.get("indication"))
    given = case.give(DRUG, "4 mg", **more)
    assert (given["check"]["verdict"], given["indication"]) == (verdict, more.get("indication"))
    shown = case.card()["doses"][-1]["shown"]
    assert shown.endswith("for a seizure" if verdict == "within" else "for sedation")


@pytest.mark.parametrize(
    ("treatment", "dose", "words"),
    [(DRUG, "1 mg", ("sedation", "seizure")), ("hydrocortisone", "100 mg", ("no indications",))],
)
def test_an_indication_that_the_treatment_lacks_is_refused_with_those_it_has(case, treatment, dose, words):
    body = {"at": case.time(0), **case.dose(treatment, dose, indication="headache")}
    for address in ("checks", "orders", "interventions"):
        told = {**body, "id": new_id()} | ({"given_at": body["at"]} if address == "interventions" else {})
        problem = refused(case.crew.post(f"cases/{case.case}/{address}/", told), 422, pointer="/indication")
        assert all(word in problem["errors"][0]["detail"] for word in words)


def test_a_dose_by_order_is_for_what_was_ordered(case, cast):
    order = case.posted(
        f"cases/{case.case}/orders/",
        {"at": case.time(0), "reason": "status", **case.dose(DRUG, "6 mg", indication="seizure")},
        cast.physician,
    )
    said = {name: order[name] for name in ("treatment", "route", "amount")}
    assert case.posted(f"orders/{order['id']}/readback/", said)["matches"]
    given = case.give(DRUG, "6 mg", order=order["id"])
    assert (
        given["check"]["verdict"] == "caution"
    )  # over the hard limit of sedation, within what was ordered for a seizure
    assert "above_most" in codes(given["check"])
    assert case.crew.get(f"orders/{order['id']}/").json()["state"] == "given"


def test_guidance_keeps_one_row_a_treatment_with_its_indications_inside(case):
    row = case.guidance()[DRUG]
    assert [each["indication"] for each in row["indications"]] == ["sedation", "seizure"]
    assert [each["most"]["value"] for each in row["indications"]] == [2, 4]
    assert row["most"]["value"] == 2
