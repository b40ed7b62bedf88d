"""What others gave by a name in words of their own, and what the complaint tells, through the API."""

from typing import Any

import pytest

from tests.api.story import Story


@pytest.fixture
def story(cast: Any, monkeypatch: pytest.MonkeyPatch) -> Story:
    told = Story(cast, monkeypatch).open(impression="undifferentiated", bleeding_cause="trauma")
    told.read(sbp=120, dbp=80, hr=100, rr=16, spo2=96)
    return told


def codes(checked: dict[str, Any]) -> set[str]:
    return {each["code"] for each in checked["findings"]}


@pytest.mark.parametrize(
    ("name", "counted"), [("TXA", True), ("Cyklokapron", True), ("no TXA given", False), ("ondansetron", False)]
)
def test_tranexamic_acid_of_the_hospital_is_the_first_dose(story: Story, name: str, counted: bool):
    before = {"treatment": "other", "name": name, "prior": True, "prior_by": "hospital", "amount_text": "one"}
    story.posted(f"cases/{story.case}/interventions/", {**before, "given_at": story.time(-20)})

    assert ("count_reached" in codes(story.check("tranexamic-acid", "1 g", over_min=10))) == counted


@pytest.mark.parametrize(
    ("complaint", "barred"),
    [("burn 40 % TBSA 4 days ago", True), ("burn 40 % TBSA 2 h ago", False), ("chest pain", False)],
)
def test_the_complaint_bars_a_drug(story: Story, complaint: str, barred: bool):
    assert story.crew.patch(f"cases/{story.case}/", {"complaint": complaint}).status_code == 200

    checked = story.check("succinylcholine", "100 mg", stock="20 mg/mL")
    assert ("contraindicated" in codes(checked)) == barred
