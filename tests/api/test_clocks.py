"""A sender's fast or slow clock hides nothing: all goes by the corrected time (contract, "Times").

The server's clock stands still at noon until a test moves it; numbers of minutes count from noon.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consult.actions import accounts
from consult.models import Alert, Membership, Unit
from consult.render.card import sort_key
from tests.api.conftest import Program, new_id, refused
from tests.api.story import Story, codes, minute
from tests.conftest import ADULT, NOON
from tests.depth import few_cases

CENTURY = 36_525 * 24 * 60
OFF = {
    "right": 0,
    "5 min ahead": 5,
    "5 min behind": -5,
    "30 min ahead": 30,
    "30 min behind": -30,
    "a century ahead": CENTURY,
    "a century behind": -CENTURY,
}
PUSH = "epinephrine-push-dose"
UUID_TEXT = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
HAPPENED = ("taken_at", "at", "given_at", "opened_at", "eta")


@pytest.fixture
def story(cast, monkeypatch):
    return Story(cast, monkeypatch)


@dataclass
class Sender:
    """A device of the crew whose clock is `ahead` minutes ahead; it says so with each entry where it is `honest`."""

    story: Story
    ahead: float = 0
    honest: bool = True
    program: Program | None = None

    def time(self, minutes: float | None) -> str:
        """What this device's clock shows so many minutes after noon; now without a number."""
        true = self.story.now if minutes is None else NOON + timedelta(minutes=minutes)
        return (true + timedelta(minutes=self.ahead)).isoformat()

    def clock(self) -> dict[str, str]:
        return {"sent_at": self.time(None)} if self.honest else {}

    def told(self, content: dict[str, Any]) -> dict[str, Any]:
        """An entry as this device sends it: minutes after noon become times of its clock."""
        times = {name: self.time(content[name]) for name in HAPPENED if name in content}
        return {"id": new_id(), **content, **times}

    def post(self, path: str, content: dict[str, Any] | None = None, **more: Any) -> Any:
        return (self.program or self.story.crew).post(path, {**self.told(content or {}), **self.clock(), **more})

    def send(self, path: str, content: dict[str, Any] | None = None) -> dict[str, Any]:
        answer = self.post(path, content)
        assert answer.status_code in (200, 201), answer.content
        found: dict[str, Any] = answer.json()
        return found

    def vitals(self, at: float, **values: Any) -> dict[str, Any]:
        return self.send(f"cases/{self.story.case}/vitals/", {"taken_at": at, **values})

    def push(self, at: float, dose: str = "10 mcg", **more: Any) -> dict[str, Any]:
        body = {"given_at": at, **self.story.dose(PUSH, dose), **more}
        return self.send(f"cases/{self.story.case}/interventions/", body)


def in_words(card: dict[str, Any]) -> str:
    """A card without what differs between two cases of the same story: ids by their order, numbers of the journal."""
    seen: dict[str, str] = {}
    plain = json.dumps(_without_seq(card))
    return UUID_TEXT.sub(lambda found: seen.setdefault(found[0], f"id {len(seen)}"), plain)


def _without_seq(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _without_seq(inner) for name, inner in value.items() if name != "seq"}
    return [_without_seq(inner) for inner in value] if isinstance(value, list) else value


# A consult as it is told: when it is sent, what it is, its content. Some of it is sent minutes after it happened.
FLUID = {"treatment": "crystalloid-bolus", "amount": {"value": 500, "unit": "mL"}, "route": "IV"}
NOREPINEPHRINE = {
    "treatment": "norepinephrine-infusion",
    "amount": {"value": 8, "unit": "mcg/min"},
    "route": "IV",
    "concentration": {"value": 16, "unit": "mcg/mL"},
}
TEN_MCG = {"treatment": PUSH, "amount": {"value": 10, "unit": "mcg"}, "route": "IV"}
TOLD = [
    (0, "vitals", {"taken_at": -1, "sbp": 84, "dbp": 40, "hr": 128}),
    (1, "procedures", {"at": 0.5, "procedure": "iv_access", "gauge": 18, "outcome": "done"}),
    (2, "interventions", {"given_at": 2, **FLUID, "status": "running", "over_min": 15}),
    (4, "vitals", {"taken_at": 3.5, "sbp": 76, "dbp": 36, "hr": 134}),
    (5, "interventions", {"given_at": 5, **TEN_MCG}),
    (8, "vitals", {"taken_at": 7, "sbp": 88, "dbp": 42}),
    (9, "interventions", {"given_at": 6, **TEN_MCG}),
    (10, "notes", {"at": 9, "text": "cold hands"}),
    (11, "orders", {"at": 11, **TEN_MCG, "amount": {"value": 40, "unit": "mcg"}, "reason": "no response"}),
    (12, "interventions", {"given_at": 11.5, **NOREPINEPHRINE, "status": "running", "container_ml": 250}),
    (20, "vitals", {"taken_at": 12, "sbp": 110, "dbp": 70}),
    (21, "vitals", {"taken_at": 21, "sbp": 70, "dbp": 34}),
    (22, "interventions", {"given_at": 21.5, **TEN_MCG}),
]


def tell(story: Story, told: list[tuple[float, str, dict[str, Any]]], aheads: list[float]) -> dict[str, Any]:
    """The card after a consult that devices tell whose clocks are so far ahead, entry by entry."""
    story.now, story.case = NOON, new_id()
    patient = {**ADULT, "label": "A"}
    case = {"id": story.case, "opened_at": -20, "patient": patient, "complaint": "weak, pale", "eta": 45}
    Sender(story, aheads[0]).send("cases/", case)
    for (at, path, content), ahead in zip(told, aheads[1:], strict=True):
        story.at(at)
        Sender(story, ahead).send(f"cases/{story.case}/{path}/", content)
    card = story.at(24).card()
    story.posted(f"cases/{story.case}/close/", {"outcome": "cancelled"}, by=story.physician)
    return card


TRUE: list[dict[str, Any]] = []


def by_true_clocks(story: Story) -> dict[str, Any]:
    """The card after the whole consult by true clocks, told once in a run: it is the same each time, but for ids."""
    if not TRUE:
        TRUE.append(tell(story, TOLD, [0] * (len(TOLD) + 1)))
    return TRUE[0]


@pytest.mark.parametrize("ahead", OFF.values(), ids=OFF.keys())
def test_the_card_is_that_of_a_sender_with_a_true_clock(story, ahead):
    true = by_true_clocks(story)
    off = tell(story, TOLD, [ahead] * (len(TOLD) + 1))

    assert {"low_pressure", "dose_outside_limits"} <= {alert["kind"] for alert in true["alerts"]}
    assert in_words(off) == in_words(true)


def test_a_phone_that_corrects_its_clock_in_the_middle(story):
    aheads = [30.0] * 6 + [0.0] * (len(TOLD) - 5)
    assert in_words(tell(story, TOLD, aheads)) == in_words(by_true_clocks(story))


@few_cases
@given(st.data())
def test_whatever_the_clocks_the_card_is_the_same(story, data):
    """Each entry from a device of its own, off by whole seconds beyond what may be transit."""
    seconds = st.integers(-200_000, 200_000).filter(lambda s: not -31 <= s <= 0)  # what is ahead, or more than transit
    told = data.draw(st.lists(st.sampled_from(TOLD), unique_by=lambda each: each[0], min_size=3).map(sorted_by_time))
    aheads = [each / 60 for each in data.draw(st.lists(seconds, min_size=len(told) + 1, max_size=len(told) + 1))]
    assert in_words(tell(story, told, aheads)) == in_words(tell(story, told, [0] * (len(told) + 1)))


def sorted_by_time(told: list[Any]) -> list[Any]:
    return sorted(told, key=lambda each: each[0])


@pytest.mark.parametrize("ahead", [5, CENTURY], ids=["5 min", "a century"])
def test_a_fast_clock_does_not_hide_a_dying_patient(story, ahead):
    story.open()
    steady = story.card()
    story.open(opened=-10)
    Sender(story, ahead).vitals(0, sbp=120, dbp=80)
    story.at(1)
    Sender(story).vitals(1, sbp=50, dbp=30)

    card = story.card()
    assert card["vitals"]["sbp"] == {"value": 50, "taken_at": "2030-01-05T12:01:00Z"}
    assert [(each["kind"], each["priority"]) for each in card["alerts"]] == [("low_pressure", "high")]
    assert sort_key(card) < sort_key(steady)


@pytest.mark.parametrize("ahead", [1.5, 2], ids=["90 s", "2 min"])
def test_a_reading_ahead_of_its_receipt_hides_nothing_without_sent_at_either(story, ahead):
    """What is placed after its receipt is judged as of its receipt: it has happened by then."""
    story.open()
    fast = Sender(story, ahead, honest=False)
    sent = fast.vitals(0, sbp=120, dbp=80)
    story.at(0.5)
    Sender(story, honest=False).vitals(0.5, sbp=50, dbp=30)

    assert (minute(sent["taken_at"]), sent["clock_offset_s"]) == (ahead, None)
    card = story.card()
    assert [minute(point["t"]) for point in card["trend"]] == [0, 0.5]
    assert card["vitals"]["sbp"]["value"] == 50
    assert {alert["kind"] for alert in card["alerts"]} == {"low_pressure"}


@pytest.mark.parametrize("ahead", [*OFF.values(), 1.5], ids=[*OFF.keys(), "90 s, and it does not say so"])
def test_intervals_and_reassessments_go_by_the_corrected_time(story, ahead):
    story.open()
    sender = Sender(story, ahead, honest=ahead != 1.5)
    sender.vitals(0, sbp=84, dbp=40)
    first = sender.push(0)
    story.at(1.5)
    Sender(story).vitals(1.5, sbp=85, dbp=41, hr=110, rr=18, spo2=94, avpu="A", lungs="clear")
    soon, late_enough = (
        Sender(story).post(f"cases/{story.case}/checks/", {"at": at, **TEN_MCG}).json() for at in (1.5, 2)
    )

    assert "too_soon" in codes(soon)
    assert "too_soon" not in codes(late_enough)
    assert minute(story.asked(first)["counts_from"]) == 1
    assert story.asked(first)["state"] == "done"


def test_times_are_kept_as_sent_beside_the_offset(story):
    story.open()
    sender = Sender(story, 5)
    answers = [
        sender.vitals(-1, hr=90),
        sender.push(-1),
        sender.send(f"cases/{story.case}/notes/", {"at": -1, "text": "cold hands"}),
        sender.send(f"cases/{story.case}/procedures/", {"at": -1, "procedure": "oxygen", "outcome": "done"}),
        sender.send(f"cases/{story.case}/orders/", {"at": -1, **TEN_MCG, "reason": "no response"}),
        sender.send(
            f"cases/{story.case}/containers/",
            {"at": -1, "form": "bag", "treatment": "crystalloid-bolus", "volume": {"value": 500, "unit": "mL"}},
        ),
    ]
    told = [next(answer[name] for name in HAPPENED if name in answer) for answer in answers]
    lines = story.physician.get(f"cases/{story.case}/journal/").json()["results"]
    own = [line for line in lines if line["by"] and line["by"]["name"] == "J. Osk" and line["kind"] != "case.opened"]

    assert [minute(at) for at in told] == [4] * 6
    assert [answer["clock_offset_s"] for answer in answers] == [-300] * 6
    assert [(minute(line["at"]), line["data"]["clock_offset_s"], line["late"]) for line in own] == [
        (4, -300, False)
    ] * 6


# How far the sender's clock is behind in seconds, by how much its times are corrected.
CORRECTED = [(0, None), (25, None), (30, None), (31, 31), (45, 45), (-1, -1), (-20, -20), (300, 300)]


@pytest.mark.parametrize(("behind", "expected"), CORRECTED)
def test_what_may_be_transit_is_no_fault_of_the_clock(story, behind, expected):
    story.open()
    answer = Sender(story, -behind / 60).vitals(-1, hr=90)

    (point,) = story.card()["trend"]
    assert answer["clock_offset_s"] == expected
    assert minute(point["t"]) == pytest.approx(-1 - (0 if expected else behind / 60))


# Where an entry goes, the field that says when it happened, what else it says.
WRITES = [
    ("vitals", "taken_at", {"hr": 90}),
    ("interventions", "given_at", TEN_MCG),
    ("orders", "at", {**TEN_MCG, "reason": "no response"}),
    ("notes", "at", {"text": "cold hands"}),
    ("procedures", "at", {"procedure": "oxygen", "outcome": "done"}),
    ("containers", "at", {"form": "bag", "treatment": "crystalloid-bolus", "volume": {"value": 500, "unit": "mL"}}),
    ("checks", "at", TEN_MCG),
    ("handover", "at", {"to": "Dr. Fenn"}),
    ("close", "at", {"outcome": "cancelled"}),
]


@pytest.mark.parametrize(("path", "field", "content"), WRITES, ids=[path for path, _, _ in WRITES])
@pytest.mark.parametrize("ahead", [0, 30, -30, CENTURY], ids=["right", "30 min ahead", "30 min behind", "a century"])
def test_what_lies_ahead_after_correction_is_refused_at_its_place(story, path, field, content, ahead):
    story.open()
    sender = Sender(story, ahead)
    found = refused(sender.post(f"cases/{story.case}/{path}/", {field: 2.1, **content}), 422, pointer=f"/{field}")
    assert [error["code"] for error in found["errors"]] == ["time_in_future"]
    assert sender.post(f"cases/{story.case}/{path}/", {field: 1.9, **content}).status_code in (200, 201)


@pytest.mark.parametrize("ahead", OFF.values(), ids=OFF.keys())
def test_a_plan_may_lie_ahead_and_goes_by_the_same_clock(story, ahead):
    story.open()
    answer = Sender(story, ahead).program or story.crew
    sent = {"eta": Sender(story, ahead).time(300), **Sender(story, ahead).clock()}
    assert answer.patch(f"cases/{story.case}/", sent).status_code == 200
    assert minute(story.card()["eta"]) == 300


def test_the_same_entry_sent_again_by_another_clock_is_the_same_entry(story):
    story.open()
    path, sender = f"cases/{story.case}/vitals/", Sender(story, 5)
    entry = sender.told({"taken_at": 0, "sbp": 80, "dbp": 40})
    first = story.crew.post(path, {**entry, "sent_at": sender.time(None)})
    story.at(10)
    again = story.crew.post(path, {**entry, "sent_at": story.time(None)})
    alone = story.crew.post(path, entry)

    assert [answer.status_code for answer in (first, again, alone)] == [201, 200, 200]
    assert first.json() == again.json() == alone.json()
    assert [minute(point["t"]) for point in story.card()["trend"]] == [0]


def test_in_a_batch_the_clock_of_the_batch_holds(story):
    """An entry may carry the `sent_at` of an attempt ten minutes before: that says nothing about the clock now."""
    story.open()
    sender = Sender(story, 5)
    stale = {**sender.told({"taken_at": 0, "sbp": 80, "dbp": 40}), "sent_at": sender.time(0)}
    plain = sender.told({"taken_at": 1, "sbp": 82, "dbp": 40})
    story.at(10)
    entries = [{"kind": "vitals", "case": story.case, **each} for each in (stale, plain)]
    answer = story.crew.post("batch/", {"sent_at": sender.time(None), "entries": entries})

    assert [result["status"] for result in answer.json()["results"]] == [201, 201]
    assert [minute(point["t"]) for point in story.card()["trend"]] == [0, 1]


def test_two_devices_of_one_unit_with_clocks_of_their_own(story, cast):
    unit = Unit.objects.get(pk=cast.crew.actor.unit)
    monitor = accounts.make_member(
        Membership.objects.get(pk=cast.crew.actor.membership).agency, "crew", unit=unit, name="Monitor"
    )
    slow = Sender(story, -10, program=Program(accounts.issue_token(monitor, NOON)))
    story.open()
    fast = Sender(story, 10)
    for at, sender in enumerate([fast, slow, fast, slow]):
        story.at(at)
        sender.vitals(at, hr=100 + at)

    card = story.card()
    assert [(minute(point["t"]), point["hr"]) for point in card["trend"]] == [(at, 100 + at) for at in range(4)]
    assert card["vitals"]["hr"]["value"] == 103
    told = Alert.objects.filter(kind="clock_offset").values_list("text", "cleared_at")
    assert set(told) == {
        ("The clock of J. Osk is 10 min ahead of the server's", None),
        ("The clock of Monitor is 10 min behind the server's", None),
    }


def test_an_end_just_after_the_start_is_no_end_before_it(story):
    """The start took 9 s to arrive, the end 1 s: by the corrected times alone the end would come first."""
    story.open()
    start = {"given_at": Sender(story, 5).time(0), **FLUID, "status": "running", "over_min": 15}
    story.at(9 / 60)
    bolus = story.posted(f"cases/{story.case}/interventions/", {**start, "sent_at": Sender(story, 5).time(0)})
    story.at(4 / 60)
    end = {"at": Sender(story, 5).time(3 / 60), "status": "stopped", "sent_at": Sender(story, 5).time(3 / 60)}
    assert story.posted(f"interventions/{bolus['id']}/changes/", end)["status"] == "stopped"

    before = {"at": Sender(story, 5).time(-2), "status": "stopped", "sent_at": Sender(story, 5).time(4 / 60)}
    start |= {"sent_at": Sender(story, 5).time(4 / 60)}
    other = story.posted(f"cases/{story.case}/interventions/", start)
    refused(story.crew.post(f"interventions/{other['id']}/changes/", before), 422, pointer="/at")


def test_a_correction_leaves_the_readings_before_it(story):
    story.open()
    Sender(story).vitals(0, sbp=90, dbp=50)
    story.at(1)
    wrong = Sender(story, 5).vitals(1, sbp=190, dbp=50)
    story.at(2)
    Sender(story, -5).send(
        f"cases/{story.case}/corrections/", {"target": {"kind": "vitals", "id": wrong["id"]}, "reason": "mistyped"}
    )
    assert story.card()["vitals"]["sbp"] == {"value": 90, "taken_at": "2030-01-05T12:00:00Z"}


def test_an_order_goes_by_the_corrected_time(story):
    story.open()
    sender = Sender(story, 30)
    asked = sender.send(f"cases/{story.case}/orders/", {"at": -1, **TEN_MCG, "reason": "no response"})
    (order,) = story.card()["orders"]

    assert minute(asked["at"]) == 29
    assert [minute(order[name]) for name in ("requested_at", "waiting_since")] == [-1, 0]
    assert [minute(step["at"]) for step in order["steps"]] == [-1]
    assert datetime.fromisoformat(order["requested_at"]) < story.now
