"""What speaks against a drug of the heart, through the API: a rhythm as the crew wrote it, what was taken at home."""

from typing import Any

import pytest

from tests.api.conftest import new_id, refused
from tests.api.story import Story
from tests.api.worked import amount


@pytest.fixture
def story(cast: Any, monkeypatch: pytest.MonkeyPatch) -> Story:
    told = Story(cast, monkeypatch).open(impression="undifferentiated")
    told.read(sbp=150, dbp=90, hr=130, rr=16, spo2=96, rhythm="complete heart block")
    return told


def found(checked: dict[str, Any], words: str) -> list[str]:
    return [each["level"] for each in checked["findings"] if words in each["text"]]


def test_a_rhythm_on_record_bars_the_drug_until_another_one_is(story: Story):
    drip = ("amiodarone-infusion", "1 mg/min")
    barred = story.check(*drip, concentration="1.8 mg/mL")
    assert found(barred, "rhythm at 12:00 UTC: complete heart block") == ["over_hard_limit"]
    assert story.guidance()["amiodarone-infusion"]["held"]

    story.at(5).read(sbp=150, dbp=90, hr=130, rhythm="AF, no heart block")
    assert story.check(*drip, concentration="1.8 mg/mL")["verdict"] == "needs_order"
    assert not story.guidance()["amiodarone-infusion"]["held"]


def test_no_order_starts_it_and_any_order_stops_it_or_lowers_it(story: Story):
    """Contract: beyond a hard limit no reason passes what speaks against the drug; less of what runs is no start."""
    entry = {
        "treatment": "esmolol-infusion",
        "route": "IV",
        "reason": "torn aorta",
        "concentration": amount("10 mg/mL"),
    }
    start = {**entry, "id": new_id(), "amount": amount("50 mcg/kg/min"), "hard_limit_reason": "two of us agree"}
    answer = story.physician.post(f"cases/{story.case}/orders/", start)
    assert "heart block: esmolol can stop the heart" in refused(answer, 422, "hard-limit")["detail"]

    story.read(at=-15, sbp=160, dbp=95, rhythm="sinus")
    runs = story.give("esmolol-infusion", "100 mcg/kg/min", at=-10, status="running", concentration="10 mg/mL")
    change = {**entry, "action": "change", "intervention": runs["id"], "amount": amount("50 mcg/kg/min")}
    assert story.posted(f"cases/{story.case}/orders/", change, story.physician)["state"] == "approved"
    stop = {"treatment": "esmolol-infusion", "action": "stop", "intervention": runs["id"], "reason": "heart block"}
    assert story.posted(f"cases/{story.case}/orders/", stop, story.physician)["state"] == "approved"


@pytest.mark.parametrize(
    ("hours", "drug", "levels"),
    [(2, "sildenafil 50 mg", ["over_hard_limit"]), (25, "sildenafil 50 mg", []), (2, "aspirin 324 mg", [])],
)
def test_what_was_taken_at_home_before_nitroglycerin_counts(story: Story, hours: int, drug: str, levels: list[str]):
    home = {
        "treatment": "other",
        "name": drug,
        "route": "PO",
        "prior": True,
        "prior_by": "patient",
        "amount_text": "one",
    }
    story.posted(f"cases/{story.case}/interventions/", {**home, "given_at": story.time(-60 * hours)})

    checked = story.check("nitroglycerin-tongue", "0.4 mg")
    assert found(checked, "with nitroglycerin the pressure can fall to nothing") == levels
    assert story.guidance()["nitroglycerin-tongue"]["held"] == bool(levels)
