"""Orders that end: what was given by them is kept and judged by when it was given; who ordered is told what became.

How long an order holds (10 min for a single dose, 30 min for a series) and that "given" is never assumed are the
contract's ("Orders", "Alerts"); common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.api.conftest import mcg, new_id
from tests.api.story import Story, codes

PUSH = "epinephrine-push-dose"
SAID = {"treatment": PUSH, "route": "IV", "amount": mcg(30)}


@pytest.fixture
def story(cast: Any, monkeypatch: Any) -> Story:
    told = Story(cast, monkeypatch).open()
    told.read(sbp=80, dbp=40, lungs="clear")
    return told


class Loop:
    """One order of 30 mcg (standing limit 20), from the request on; minutes count from noon."""

    def __init__(self, story: Story, **more: Any) -> None:
        self.story = story
        entry = {"at": story.time(None), "reason": "no response to fluid", **SAID, **more}
        self.id = story.posted(f"cases/{story.case}/orders/", entry)["id"]

    def decide(self, decision: str = "approve", **more: Any) -> Loop:
        reason = {} if decision == "ask" else {"reason": "as discussed"}
        self.story.posted(f"orders/{self.id}/decision/", {"decision": decision, **reason, **more}, self.story.physician)
        return self

    def read_back(self, value: float = 30) -> Loop:
        self.story.posted(f"orders/{self.id}/readback/", {**SAID, "amount": mcg(value)})
        return self

    def withdraw(self) -> Loop:
        self.story.posted(f"orders/{self.id}/withdraw/", {"reason": "pressure came up"}, self.story.physician)
        return self

    def not_given(self) -> Loop:
        self.story.posted(f"orders/{self.id}/not_given/", {"reason": "patient better"})
        return self

    def give(self, at: float, value: float = 30) -> dict[str, Any]:
        return self.story.give(PUSH, f"{value} mcg", at=at, order=self.id)

    @property
    def state(self) -> str:
        return str(self.story.crew.get(f"orders/{self.id}/").json()["state"])


def texts(check: dict[str, Any]) -> dict[str, str]:
    return {finding["code"]: finding["text"] for finding in check["findings"]}


def alert(story: Story, kind: str) -> dict[str, Any]:
    found = story.physician.get(f"alerts/?case={story.case}").json()["results"]
    return dict(next(each for each in found if each["kind"] == kind))


# How an order that was read back at 1 min ends at 4 min (11 min for its time), when the dose was given and told,
# the words of the check, and how the order stands then.
ENDED = [
    ("withdraw", 4, 6, 6, "the order was withdrawn by Dr. Merrin at 12:04:00 UTC: pressure came up", "withdrawn"),
    ("withdraw", 4, 3, 6, None, "given"),
    (
        "not_given",
        4,
        6,
        6,
        "the order was recorded as not given by J. Osk at 12:04:00 UTC: patient better",
        "not_given",
    ),
    ("not_given", 4, 3, 6, None, "given"),
    ("expire", 11, 11.5, 12, "the order expired at 12:10:00 UTC: read back but not given", "expired"),
    ("expire", 11, 9, 12, None, "given"),
]


@pytest.mark.parametrize(("how", "ends", "given", "told", "words", "state"), ENDED)
def test_a_dose_is_kept_and_judged_by_how_its_order_stood_when_it_was_given(
    story: Story, how: str, ends: float, given: float, told: float, words: str | None, state: str
):
    loop = Loop(story).decide()
    story.at(1)
    loop.read_back()
    story.at(ends)
    if how != "expire":
        getattr(loop, how)()
    story.at(told)
    check = loop.give(given)["check"]

    assert texts(check).get("order_not_read_back") == words
    assert check["verdict"] == ("caution" if words is None else "needs_order")
    assert ("dose_outside_limits" in {each["kind"] for each in story.card()["alerts"]}) is (words is not None)
    assert loop.state == state


@pytest.mark.parametrize(
    ("step", "words"),
    [
        ("requested", "the order is requested, not approved"),
        ("declined", "the order was declined by Dr. Merrin at 12:00:00 UTC: as discussed"),
        ("approved", "the order has not been read back"),
        ("given", "the order has already been carried out"),
    ],
)
def test_a_dose_that_names_an_order_not_read_back_says_how_that_stands(story: Story, step: str, words: str):
    loop = Loop(story)
    if step in ("approved", "given"):
        loop.decide()
    if step == "declined":
        loop.decide("decline")
    if step == "given":
        loop.read_back().give(0)
    story.at(3)

    assert texts(loop.give(3)["check"])["order_not_read_back"] == words


def test_before_the_sweep_has_come_an_order_past_its_time_is_one_already(story: Story, monkeypatch: pytest.MonkeyPatch):
    loop, unread = Loop(story).decide().read_back(), Loop(story).decide()
    monkeypatch.setattr("consult.actions.alerts.sweep", lambda now: 0)
    story.at(10.5)
    refused = story.crew.post(f"orders/{unread.id}/readback/", {"id": new_id(), **SAID})

    assert (refused.status_code, refused.json()["type"]) == (409, "wrong-state")
    assert refused.json()["detail"] == "The order expired at 12:10:00 UTC."
    assert "expired at 12:10:00 UTC" in texts(loop.give(10.5)["check"])["order_not_read_back"]


def test_what_is_left_of_a_series_stays_withdrawn_though_a_dose_of_it_is_told_late(story: Story):
    loop = Loop(story, repeat={"times": 3, "every_min": 2}).decide().read_back()
    story.at(4)
    loop.withdraw()

    assert "order_not_read_back" not in codes(loop.give(2)["check"])
    assert loop.state == "withdrawn"
    story.at(5)
    assert "order_not_read_back" in codes(loop.give(4.5)["check"])


# What had happened before the order ran out, and what whoever ordered it is told; None: nothing.
DOSE = "NOT GIVEN: EPINEPHrine push dose 30 mcg IV, order by Dr. Merrin expired"
NOT_GIVEN = [
    ("unread", f"{DOSE} 12:10 UTC, not read back"),
    ("misread", f"{DOSE} 12:10 UTC, not read back"),
    ("read back", f"{DOSE} 12:10 UTC, read back but not given"),
    ("stop", "NOT DONE: stop norepinephrine infusion, order by Dr. Merrin expired 12:10 UTC, not read back"),
    ("given", None),
    ("not given", None),
    ("withdrawn", None),
    ("one of three", None),
    ("none of three", f"{DOSE} 12:30 UTC, read back but not given"),
]


def bring(story: Story, how: str) -> Loop:
    """An order at noon, brought to where its time runs out."""
    series = {"repeat": {"times": 3, "every_min": 2}} if "three" in how else {}
    if how == "stop":
        runs = story.give("norepinephrine-infusion", "0.1 mcg/kg/min", status="running", prior=True)
        stop = {"treatment": "norepinephrine-infusion", "action": "stop", "intervention": runs["id"]}
        ordered = {**stop, "at": story.time(None), "reason": "at goal"}
        story.posted(f"cases/{story.case}/orders/", ordered, story.physician)
        return Loop(story).decide("decline")
    loop = Loop(story, **series).decide()
    if how == "misread":
        loop.read_back(300)
    elif how != "unread":
        loop.read_back()
    if how in ("given", "one of three"):
        loop.give(0)
    if how == "not given":
        loop.not_given()
    if how == "withdrawn":
        loop.withdraw()
    return loop


@pytest.mark.parametrize(("how", "words"), NOT_GIVEN, ids=[how for how, _ in NOT_GIVEN])
def test_an_order_that_runs_out_with_nothing_given_alarms_who_ordered_it(story: Story, how: str, words: str | None):
    bring(story, how)
    for minute in (5, 10.1, 30.1, 31):
        story.at(minute)
        story.read(sbp=80, dbp=40)
    found = [each for each in story.card()["alerts"] if each["kind"] == "order_not_given"]

    assert [(each["priority"], each["text"]) for each in found] == ([("high", words)] if words else [])


@pytest.mark.parametrize("who", ["physician", "supervisor"])
def test_it_stands_until_somebody_has_taken_notice(cast: Any, story: Story, who: str):
    Loop(story).decide()
    story.at(11)
    raised = alert(story, "order_not_given")
    assert (raised["cleared_at"], raised["acknowledged"]) == (None, None)
    getattr(cast, who).post(f"alerts/{raised['id']}/acknowledge/", {"id": new_id()})
    name = {"physician": "Dr. Merrin", "supervisor": "N. Averill"}[who]

    assert alert(story, "order_not_given")["cleared_because"] == f"acknowledged by {name}"
    assert "order_not_given" not in {each["kind"] for each in story.at(12).card()["alerts"]}


def test_it_goes_when_the_dose_is_told_late_that_was_given_in_time(story: Story):
    loop = Loop(story).decide().read_back()
    story.at(11)
    loop.give(8)

    assert alert(story, "order_not_given")["cleared_because"] == "carried out in time, reported late"


@pytest.mark.parametrize(
    ("kind", "ends", "because"),
    [
        ("order_waiting", "approve", "approved by Dr. Merrin"),
        ("order_waiting", "change", "approved with a change by Dr. Merrin"),
        ("order_waiting", "ask", "Dr. Merrin asks: Lungs clear?"),
        ("order_waiting", "decline", "declined by Dr. Merrin: as discussed"),
        ("order_waiting", "withdraw", "withdrawn by Dr. Merrin: pressure came up"),
        ("order_waiting", "handover", "withdrawn by J. Osk: case ended"),
        ("readback_waiting", "read back", "read back and matched by J. Osk"),
        ("readback_waiting", "misread", "read back but not matched by J. Osk"),
        ("readback_waiting", "withdraw", "withdrawn by Dr. Merrin: pressure came up"),
        ("readback_waiting", "not given", "recorded as not given by J. Osk: patient better"),
        ("readback_waiting", "expire", "expired: not read back"),
        ("readback_waiting", "handover", "withdrawn by J. Osk: case ended"),
        ("readback_mismatch", "read back", "read back and matched by J. Osk"),
        ("readback_mismatch", "withdraw", "withdrawn by Dr. Merrin: pressure came up"),
        ("readback_mismatch", "expire", "expired: not read back"),
    ],
)
def test_an_alert_about_an_order_ends_with_what_became_of_it(story: Story, kind: str, ends: str, because: str):
    loop = Loop(story)
    if kind != "order_waiting":
        loop.decide()
    if kind == "readback_mismatch":
        loop.read_back(300)
    story.at(5)
    assert alert(story, kind)["cleared_at"] is None
    end(story, loop, ends)

    assert alert(story, kind)["cleared_because"] == because


def end(story: Story, loop: Loop, how: str) -> None:
    match how:
        case "approve" | "decline":
            loop.decide(how)
        case "change":
            loop.decide("change", amount=mcg(25))
        case "ask":
            loop.decide("ask", text="Lungs clear?")
        case "withdraw":
            loop.withdraw()
        case "read back":
            loop.read_back()
        case "misread":
            loop.read_back(300)
        case "not given":
            loop.not_given()
        case "expire":
            story.at(10.1)
        case "handover":
            finish(story, "handover")


def finish(story: Story, how: str) -> None:
    body = {"to": "Ashgrove, resuscitation 2"} if how == "handover" else {"outcome": "died"}
    story.posted(f"cases/{story.case}/{how}/", body)


def test_an_order_by_weight_that_a_new_weight_voids_ends_its_alert_with_that(story: Story):
    per_kg = {"treatment": "norepinephrine-infusion", "amount": {"value": 0.1, "unit": "mcg/kg/min"}}
    Loop(story, **per_kg, action="start", concentration={"value": 16, "unit": "mcg/mL"}).decide()
    story.at(5)
    weight = {"value": 60, "unit": "kg", "basis": "measured"}
    assert story.crew.patch(f"cases/{story.case}/", {"patient": {"weight": weight}}).status_code == 200

    assert alert(story, "readback_waiting")["cleared_because"] == "voided by J. Osk: the weight was changed"


class TestACaseThatEnds:
    @pytest.mark.parametrize(("how", "words"), [("handover", "handed over"), ("close", "closed")])
    def test_what_is_open_is_withdrawn_and_the_journal_says_so(self, story: Story, how: str, words: str):
        asked, ordered, repeated = Loop(story), Loop(story).decide(), Loop(story).decide().read_back()
        story.at(2)
        finish(story, how)

        assert [each.state for each in (asked, ordered, repeated)] == ["withdrawn"] * 3
        lines = story.crew.get(f"cases/{story.case}/journal/").json()["results"]
        ended = [line["data"] for line in lines if line["kind"] == "order.ended"]
        assert {(each["order"], each["state"], each["reason"]) for each in ended} == {
            (each.id, "withdrawn", "case ended") for each in (asked, ordered, repeated)
        }
        assert story.card()["orders"] == []

    @pytest.mark.parametrize(("how", "words"), [("handover", "handed over"), ("close", "closed")])
    @pytest.mark.parametrize(
        "decision",
        [
            {"decision": "approve", "reason": "yes"},
            {"decision": "change", "amount": mcg(25), "reason": "less"},
            {"decision": "ask", "text": "Lungs clear?"},
            {"decision": "decline", "reason": "no"},
        ],
        ids=lambda each: each["decision"],
    )
    def test_nothing_is_decided_in_it(self, story: Story, how: str, words: str, decision: dict[str, Any]):
        loop = Loop(story)
        finish(story, how)
        refused = story.physician.post(f"orders/{loop.id}/decision/", {"id": new_id(), **decision})

        assert (refused.status_code, refused.json()["type"]) == (409, "wrong-state")
        assert refused.json()["detail"].startswith(
            f"The case was {words} at 12:00:00 UTC: nothing more can be ordered or decided"
        )

    @pytest.mark.parametrize("who", ["crew", "physician"])
    def test_nothing_is_asked_for_or_ordered_in_it(self, cast: Any, story: Story, who: str):
        finish(story, "handover")
        entry = {"id": new_id(), "at": story.time(None), "reason": "why", **SAID}
        refused = getattr(cast, who).post(f"cases/{story.case}/orders/", entry)

        assert (refused.status_code, refused.json()["type"]) == (409, "wrong-state")

    @pytest.mark.parametrize(
        ("given", "words"), [(1, None), (3, "the order was withdrawn by J. Osk at 12:02:00 UTC: case ended")]
    )
    def test_what_was_given_by_such_an_order_is_still_kept(self, story: Story, given: float, words: str | None):
        loop = Loop(story).decide().read_back()
        story.at(2)
        finish(story, "handover")
        story.at(4)

        assert texts(loop.give(given)["check"]).get("order_not_read_back") == words
        lines = story.crew.get(f"cases/{story.case}/journal/").json()["results"]
        assert [line["late"] for line in lines if line["kind"] == "intervention.recorded"] == [True]

    def test_a_batch_is_told_the_same(self, story: Story):
        loop = Loop(story).decide().read_back()
        story.at(2)
        finish(story, "handover")
        story.at(4)
        entries = [
            {"kind": "order", "case": story.case, "at": story.time(3), "reason": "why", **SAID},
            {"kind": "readback", "case": story.case, "order": loop.id, **SAID},
            {"kind": "intervention", "case": story.case, "order": loop.id, "given_at": story.time(1), **SAID},
        ]
        body = {"sent_at": story.time(None), "entries": [{"id": new_id(), **each} for each in entries]}
        results = story.crew.post("batch/", body).json()["results"]

        assert [each["status"] for each in results] == [409, 409, 201]
        assert loop.state == "given"

    def test_its_withdrawn_orders_stay_so_when_it_is_opened_again(self, story: Story):
        loop = Loop(story)
        finish(story, "close")
        story.posted(f"cases/{story.case}/reopen/", {"reason": "wrong case"}, story.physician)

        assert (loop.state, story.card()["orders"]) == ("withdrawn", [])

    def test_a_dose_corrected_after_the_end_opens_no_order_again(self, story: Story):
        loop = Loop(story).decide().read_back()
        dose = loop.give(0)
        story.at(2)
        finish(story, "handover")
        story.correct("intervention", dose)

        assert (loop.state, story.card()["orders"]) == ("withdrawn", [])


def test_a_change_that_was_ordered_and_made_in_time_counts_though_it_is_told_late(story: Story):
    up, strength = {"value": 0.2, "unit": "mcg/kg/min"}, {"concentration": "16 mcg/mL"}
    runs = story.give("norepinephrine-infusion", "0.1 mcg/kg/min", status="running", **strength)
    infusion = {"treatment": "norepinephrine-infusion", "route": "IV", "amount": up}
    about = {"action": "change", "intervention": runs["id"]}
    entry = {"at": story.time(None), "reason": "as agreed", **about, **infusion}
    order = story.posted(f"cases/{story.case}/orders/", entry, story.physician)["id"]
    story.posted(f"orders/{order}/readback/", {"action": "change", **infusion})
    story.at(11)
    assert alert(story, "order_not_given")["text"].startswith("NOT DONE: change to norepinephrine infusion 0.2")
    check = story.change(runs, at=3, amount=up)["check"]

    assert story.crew.get(f"orders/{order}/").json()["state"] == "given"
    assert "needs_order" not in {each["level"] for each in check["findings"]}
    assert alert(story, "order_not_given")["cleared_because"] == "carried out in time, reported late"
