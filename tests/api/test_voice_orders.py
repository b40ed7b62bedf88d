"""Doses ordered by voice: recorded as such, no alarm meanwhile, countersigned or denied by the physician who is named.

The contract ("Interventions", "Alerts"): `countersign_waiting` low at once and medium after an hour; common practice,
no source. The standing limit of push-dose epinephrine is 20 mcg, its hard limit 100 mcg (the demonstration rule set).
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.api.conftest import new_id
from tests.api.story import Story, codes
from tests.conftest import with_a_user

PUSH = "epinephrine-push-dose"


@pytest.fixture
def story(cast: Any, monkeypatch: Any) -> Story:
    for physician in (cast.physician, cast.physician2):
        with_a_user(physician.actor)
    told = Story(cast, monkeypatch).open()
    told.read(sbp=80, dbp=40, lungs="clear")
    return told


def by_voice(story: Story, dose: str = "30 mcg", at: float = 0, who: str = "merrin", **more: Any) -> dict[str, Any]:
    said = {"physician": who, "at": story.time(at - 1)}
    return story.give(PUSH, dose, at=at, voice_order=said, **more)


def countersign(story: Story, given: dict[str, Any], **said: Any) -> dict[str, Any]:
    return story.posted(f"interventions/{given['id']}/countersign/", said, story.physician)


def alerts(story: Story) -> dict[str, str]:
    """The open alerts that tell of doses, with their priorities."""
    told = ("dose_outside_limits", "countersign_waiting")
    return {each["kind"]: each["priority"] for each in story.card()["alerts"] if each["kind"] in told}


def test_a_dose_ordered_by_voice_waits_for_its_physician_and_raises_no_alarm_meanwhile(story: Story):
    given = by_voice(story)
    assert given["voice_order"]["physician"] == "merrin"
    assert given["check"]["verdict"] == "needs_order"
    (waits,) = story.card()["countersigns"]
    assert (waits["id"], waits["by"]) == (given["id"], "Dr. Merrin")
    (alert,) = [each for each in story.card()["alerts"] if each["kind"] == "countersign_waiting"]
    assert "for Dr. Merrin to countersign: " in alert["text"]

    story.at(59.9)
    assert alerts(story) == {"countersign_waiting": "low"}
    story.at(60)
    assert alerts(story) == {"countersign_waiting": "medium"}


def test_countersigned_it_waits_no_more(story: Story):
    given = by_voice(story)
    answer = countersign(story, given)
    assert (answer["countersigned"]["agreed"], answer["countersigned"]["by"]) == (True, "Dr. Merrin")
    assert (story.card()["countersigns"], alerts(story)) == ([], {})
    assert story.card()["doses"][-1]["voice_order"]["countersigned"]["agreed"] is True
    (ended,) = [
        each
        for each in story.physician.get(f"alerts/?case={story.case}").json()["results"]
        if each["kind"] == "countersign_waiting"
    ]
    assert ended["cleared_because"] == "countersigned by Dr. Merrin"


def test_denied_it_is_a_dose_without_an_order(story: Story):
    given = by_voice(story)
    answer = countersign(story, given, agreed=False, reason="I was asked for fluid only")
    assert answer["countersigned"] | {"at": ""} == {
        "agreed": False,
        "by": "Dr. Merrin",
        "at": "",
        "reason": "I was asked for fluid only",
    }
    assert alerts(story) == {"dose_outside_limits": "high"}
    text = next(each["text"] for each in story.card()["alerts"] if each["kind"] == "dose_outside_limits")
    assert "an order that Dr. Merrin denies (I was asked for fluid only)" in text


def test_what_needed_no_order_raises_nothing_when_it_is_denied(story: Story):
    given = by_voice(story, "10 mcg")
    assert alerts(story) == {"countersign_waiting": "low"}
    countersign(story, given, agreed=False, reason="not mine")
    assert alerts(story) == {}


def test_no_voice_passes_a_hard_limit(story: Story):
    """One physician cannot order beyond it in writing either: that takes a second one."""
    given = by_voice(story, "150 mcg")
    assert "above_hard_limit" in codes(given["check"])
    assert alerts(story) == {"dose_outside_limits": "high", "countersign_waiting": "low"}
    text = next(each["text"] for each in story.card()["alerts"] if each["kind"] == "dose_outside_limits")
    assert "hard limit" in text
    assert "standing limit" not in text


def test_several_of_one_physician_are_one_alert(story: Story, cast: Any):
    given = [by_voice(story, at=each) for each in (-15, -10, -5)]
    other = by_voice(story, at=0, who="quillan")
    texts = [each["text"] for each in story.card()["alerts"] if each["kind"] == "countersign_waiting"]
    assert len(texts) == 2
    assert "Ordered by voice, for Dr. Merrin to countersign: 3 doses" in texts
    for each in given:
        countersign(story, each)
    (left,) = story.card()["countersigns"]
    assert left["id"] == other["id"]


def test_a_voice_order_told_in_error_leaves_with_its_dose(story: Story):
    given = by_voice(story)
    story.correct("intervention", given)
    assert (story.card()["countersigns"], alerts(story)) == ([], {})


def test_it_waits_on_after_the_case_has_ended_and_is_countersigned_then(story: Story):
    given = by_voice(story)
    story.posted(f"cases/{story.case}/handover/", {"to": "emergency department"})
    story.at(60)
    assert alerts(story) == {"countersign_waiting": "medium"}
    countersign(story, given)
    assert alerts(story) == {}


def test_a_late_entry_changes_no_order_by_voice(story: Story):
    """Told late, a push before makes this one too soon; whoever ordered it by voice stands for that."""
    story.read(at=-2, sbp=80, dbp=40, lungs="clear")
    by_voice(story, "10 mcg", at=0)
    story.at(3)
    story.give(PUSH, "10 mcg", at=-0.5)
    assert story.card()["doses"][-1]["verdict"] == "needs_order"
    assert alerts(story) == {"countersign_waiting": "low"}


def test_in_a_batch_it_is_the_same_entry(story: Story):
    entry = {"kind": "intervention", "id": new_id(), "case": story.case, "given_at": story.time(0)}
    entry |= {**story.dose(PUSH, "30 mcg"), "voice_order": {"physician": "merrin", "at": story.time(0)}}
    for status in (201, 200):
        sent = story.crew.post("batch/", {"sent_at": story.time(None), "entries": [entry]})
        assert sent.json()["results"][0]["status"] == status
    assert alerts(story) == {"countersign_waiting": "low"}
