"""Contract, "Store and forward", at its worst: eight hours of entries, and what became of the case meanwhile.

Whatever it was, each entry has an outcome, in words where it is refused; what happened is taken, asked or not.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from consult import access
from consult.actions import accounts
from consult.models import Alert, JournalEntry, Note, Unit
from tests.api.conftest import new_id, refused
from tests.api.shadow import ADULT, LINK_AGAIN, MOST_ENTRIES, PUSH, Shadow, in_batches, statuses

Row = Callable[[Shadow], None]


def ordered(shadow: Shadow) -> str:
    """An order of 40 mcg, read back at 12:05: it holds until 12:15."""
    story, order = shadow.story, new_id()
    body = {"id": order, "at": story.time(None), **story.dose(PUSH, "40 mcg"), "reason": "no response"}
    story.posted(f"cases/{story.case}/orders/", body, by=story.physician)
    story.posted(f"orders/{order}/readback/", story.dose(PUSH, "40 mcg"))
    return order


def open_alerts(shadow: Shadow) -> set[str]:
    found = Alert.objects.filter(case__uid=shadow.story.case, cleared_at=None)
    return set(found.values_list("kind", flat=True))


def problem(result: dict[str, Any]) -> tuple[int, str]:
    return result["status"], result["problem"]["detail"]


# ---- situation → outcome; each row plays what happened before, meanwhile and at the end


def nothing_else_happened(shadow: Shadow) -> None:
    shadow.read(100, sbp=70, dbp=40)
    shadow.push(101)
    shadow.keep("note", 102, text="on the ferry")
    shadow.story.at(LINK_AGAIN)
    assert statuses(shadow.send()) == [201] * 3
    lines = JournalEntry.objects.filter(entry__in=[each["id"] for each in shadow.kept])
    assert all(line.late for line in lines)


def an_entry_came_twice(shadow: Shadow) -> None:
    shadow.push(100)
    shadow.story.at(LINK_AGAIN)
    results = shadow.send([*shadow.kept, *shadow.kept])
    assert statuses(results) == [201, 200]
    assert results[0]["seq"] == results[1]["seq"]
    assert [each["count"] for each in shadow.story.card()["given"]] == [1]


def the_newest_came_first(shadow: Shadow) -> None:
    """What builds on what is not there yet is refused, and taken once that is."""
    dose = shadow.keep(
        "intervention", 60, "given_at", **shadow.story.dose("crystalloid-bolus", "500 mL"), status="running"
    )
    shadow.keep("change", 70, intervention=dose, status="finished")
    shadow.story.at(LINK_AGAIN)
    assert statuses(shadow.send(shadow.kept[::-1])) == [404, 201]
    assert statuses(shadow.send()) == [200, 201]
    assert shadow.story.card()["running"] == []


def the_phones_clock_was(ahead: float) -> Row:
    def row(shadow: Shadow) -> None:
        shadow.ahead = ahead
        shadow.read(100, sbp=70, dbp=40)
        shadow.story.at(LINK_AGAIN)
        assert statuses(shadow.send()) == [201]
        assert shadow.story.card()["vitals"]["sbp"]["taken_at"] == "2030-01-05T13:40:00Z"
        assert "clock_offset" in open_alerts(shadow)

    return row


def the_case_was_closed(shadow: Shadow) -> None:
    """What was done is taken and marked late; what only an open case can have is refused, and says why."""
    shadow.read(40, sbp=80, dbp=40)
    shadow.push(41)
    shadow.keep("note", 42, text="in the tunnel")
    shadow.keep("order", 43, **shadow.story.dose(PUSH, "40 mcg"), reason="no response")
    shadow.keep("handover", 44, to="Mere General")
    shadow.keep("close", 45, outcome="handed_over")
    path = f"cases/{shadow.story.case}/close/"
    shadow.story.at(30).posted(path, {"outcome": "cancelled"}, by=shadow.story.physician)
    shadow.story.at(LINK_AGAIN)
    *taken, order, handover, close = shadow.send()
    assert statuses(taken) == [201] * 3
    assert problem(order) == (
        409,
        "The case was closed at 12:30:00 UTC: nothing more can be ordered or decided in it.",
    )
    assert problem(handover) == problem(close) == (409, "The case was already closed at 12:30:00 UTC.")
    lines = shadow.story.physician.get(f"cases/{shadow.story.case}/journal/").json()["results"]
    assert [line["kind"] for line in lines if line["late"] and line["seq"] > 2] == [
        "vitals.recorded",
        "intervention.recorded",
        "note.added",
    ]


def it_was_handed_over_from_another_device(shadow: Shadow) -> None:
    shadow.keep("handover", 44, to="Mere General")
    shadow.keep("close", 45, outcome="handed_over")
    shadow.story.at(40).posted(f"cases/{shadow.story.case}/handover/", {"to": "Dr. Fenn"})
    shadow.story.at(LINK_AGAIN)
    handover, close = shadow.send()
    assert problem(handover) == (409, "The case was already handed over at 12:40:00 UTC.")
    assert close["status"] == 200


def the_case_was_moved_to_another_unit(shadow: Shadow) -> None:
    """What its crew did before is taken; what it says of later, or asks, is refused and names who has the patient."""
    shadow.read(20, sbp=80, dbp=40)
    shadow.push(21)
    shadow.read(40, sbp=82, dbp=40)
    shadow.keep("order", 22, **shadow.story.dose(PUSH, "40 mcg"), reason="no response")
    shadow.keep("handover", 44, to="Mere General")
    shadow.story.at(30)
    other = Unit.objects.get(call_sign="Plover 8")
    body = {"unit": str(other.pk), "at": shadow.story.time(None)}
    shadow.story.posted(f"cases/{shadow.story.case}/move/", body, by=shadow.story.physician)
    shadow.story.at(LINK_AGAIN)
    *taken, late, order, handover = shadow.send()
    assert statuses(taken) == [201, 201]
    told = "Plover 8 has had this patient since 12:30 UTC"
    assert problem(late) == (409, f"{told}: its crew enters what happened later.")
    assert problem(order) == problem(handover) == (409, f"{told}: only its crew and physicians can do this now.")
    assert [each["count"] for each in shadow.story.card()["given"]] == [1]


def an_order_was_withdrawn_before_the_dose(shadow: Shadow) -> None:
    """The crew could not know: the dose is kept, flagged, and says which order was no more."""
    order = ordered(shadow)
    dose = shadow.push(12, "40 mcg", order=order)
    withdrawn = {"reason": "pressure came up"}
    shadow.story.at(8).posted(f"orders/{order}/withdraw/", withdrawn, by=shadow.story.physician)
    shadow.story.at(LINK_AGAIN)
    assert statuses(shadow.send()) == [201]
    (alert,) = Alert.objects.filter(kind="dose_outside_limits", cause=dose)
    assert "withdrawn by Dr. Merrin" in alert.text


def an_order_was_withdrawn_after_the_dose(shadow: Shadow) -> None:
    """The order held when the dose was given."""
    order = ordered(shadow)
    shadow.push(10, "40 mcg", order=order)
    withdrawn = {"reason": "pressure came up"}
    shadow.story.at(12).posted(f"orders/{order}/withdraw/", withdrawn, by=shadow.story.physician)
    shadow.story.at(LINK_AGAIN)
    assert statuses(shadow.send()) == [201]
    assert "dose_outside_limits" not in open_alerts(shadow)
    assert shadow.story.crew.get(f"orders/{order}/").json()["state"] == "given"


def an_order_ran_out_before_its_dose_was_told(shadow: Shadow) -> None:
    order = ordered(shadow)
    shadow.push(14, "40 mcg", order=order)
    shadow.story.at(20)
    assert "order_not_given" in open_alerts(shadow)
    shadow.story.at(LINK_AGAIN)
    assert statuses(shadow.send()) == [201]
    assert not {"order_not_given", "dose_outside_limits"} & open_alerts(shadow)


def an_order_ran_out_before_its_dose_was_given(shadow: Shadow) -> None:
    order = ordered(shadow)
    shadow.push(16, "40 mcg", order=order)
    shadow.story.at(LINK_AGAIN)
    assert statuses(shadow.send()) == [201]
    assert {"order_not_given", "dose_outside_limits"} <= open_alerts(shadow)


def an_order_ran_out_before_it_was_read_back(shadow: Shadow) -> None:
    order, story = new_id(), shadow.story
    body = {"id": order, "at": story.time(None), **story.dose(PUSH, "40 mcg"), "reason": "no response"}
    story.posted(f"cases/{story.case}/orders/", body, by=story.physician)
    shadow.keep("readback", None, order=order, **story.dose(PUSH, "40 mcg"))
    story.at(LINK_AGAIN)
    (readback,) = shadow.send()
    assert readback["status"] == 409
    assert readback["problem"]["detail"].startswith("The order expired at 12:15:00 UTC")


def the_token_was_revoked(shadow: Shadow) -> None:
    """The device keeps all of it; under a token of the same unit it arrives, each once."""
    shadow.push(100)
    accounts.revoke_token(shadow.story.crew.member.tokens.get(), shadow.story.at(LINK_AGAIN).now)
    access.forget_tokens()
    refused(shadow.post(shadow.kept), 401)
    assert shadow.story.card()["given"] == []
    shadow.story.crew.token = accounts.issue_token(shadow.story.crew.member, shadow.story.now)
    assert statuses(shadow.send()) == [201]
    assert statuses(shadow.send()) == [200]


def half_of_the_answer_was_lost(shadow: Shadow) -> None:
    for at in range(100, 106):
        shadow.push(at)
    shadow.story.at(LINK_AGAIN)
    shadow.send(shadow.kept[:4])  # the sender hears nothing of it, and sends all again
    assert statuses(shadow.send()) == [200] * 4 + [201] * 2
    assert [each["count"] for each in shadow.story.card()["given"]] == [6]


def a_request_was_made_hours_ago(shadow: Shadow) -> None:
    """It still waits for somebody, and says since when."""
    shadow.keep("order", 60, **shadow.story.dose(PUSH, "40 mcg"), reason="no response")
    shadow.story.at(LINK_AGAIN)
    assert statuses(shadow.send()) == [201]
    (order,) = shadow.story.card()["orders"]
    assert (order["state"], order["requested_at"]) == ("requested", "2030-01-05T13:00:00Z")


def the_handover_came_before_what_preceded_it(shadow: Shadow) -> None:
    shadow.read(40, sbp=50, dbp=30)
    handover = shadow.keep("handover", 44, to="Mere General")
    shadow.story.at(LINK_AGAIN)
    assert statuses(shadow.send(shadow.kept[::-1])) == [200, 201]
    assert open_alerts(shadow) == set()
    row = JournalEntry.objects.get(entry=handover)
    assert (row.kind, row.at) == ("case.handed_over", shadow.story.at(44).now)


def the_whole_case_was_without_a_link(shadow: Shadow) -> None:
    shadow.story.case = shadow.keep("case", 60, "opened_at", patient=ADULT, complaint="fell")
    shadow.read(61, sbp=50, dbp=30)
    shadow.push(62)
    shadow.keep("phase", 63, phase="transport")
    shadow.keep("coverage", 64, until=shadow.time(80))
    shadow.keep("handover", 90, to="Mere General")
    shadow.story.at(LINK_AGAIN)
    assert statuses(shadow.send()) == [201, 201, 201, 201, 200, 200]
    assert (shadow.story.card()["state"], open_alerts(shadow)) == ("handed_over", set())


def the_same_id_stood_for_something_else(shadow: Shadow) -> None:
    shadow.read(100, sbp=80, dbp=40)
    shadow.keep("note", 101, text="cold")
    shadow.kept[1]["id"] = shadow.kept[0]["id"]
    shadow.story.at(LINK_AGAIN)
    taken, other = shadow.send()
    assert (taken["status"], other["status"], other["problem"]["type"]) == (201, 409, "id-reused")


def a_batch_was_too_large(shadow: Shadow) -> None:
    """Refused as a whole, by number or by size, and nothing of it is taken: the sender splits it."""
    for number in range(MOST_ENTRIES + 1):
        shadow.keep("note", 100, text=f"{number} " + "x" * 1400)
    shadow.story.at(LINK_AGAIN)
    refused(shadow.post([{**each, "text": "x"} for each in shadow.kept]), 422, pointer="/entries")
    assert shadow.post(shadow.kept[:-1]).status_code == 413
    assert not Note.objects.exists()
    assert [len(each) for each in in_batches(shadow.kept)] == [167, 34]
    assert [set(statuses(shadow.send(each))) for each in in_batches(shadow.kept)] == [{201}, {201}]


TABLE: dict[str, Row] = {
    "nothing else happened: taken, marked late": nothing_else_happened,
    "an entry came twice: it is one": an_entry_came_twice,
    "the newest came first: what builds on it waits": the_newest_came_first,
    "the phone's clock was 25 min fast: put right, told": the_phones_clock_was(25),
    "the phone's clock was 25 min slow: put right, told": the_phones_clock_was(-25),
    "the case was closed: what was done is taken": the_case_was_closed,
    "it was handed over from another device": it_was_handed_over_from_another_device,
    "the case was moved to another unit: what came before is taken": the_case_was_moved_to_another_unit,
    "an order was withdrawn, then given: flagged": an_order_was_withdrawn_before_the_dose,
    "an order was given, then withdrawn: as ordered": an_order_was_withdrawn_after_the_dose,
    "an order ran out before its dose was told: as ordered": an_order_ran_out_before_its_dose_was_told,
    "an order ran out, then was given: flagged": an_order_ran_out_before_its_dose_was_given,
    "an order ran out before it was read back: refused": an_order_ran_out_before_it_was_read_back,
    "the token was revoked: kept, sent with another": the_token_was_revoked,
    "half of the answer was lost: sent again": half_of_the_answer_was_lost,
    "a request was made hours ago: it waits": a_request_was_made_hours_ago,
    "the handover came before what preceded it": the_handover_came_before_what_preceded_it,
    "the whole case was without a link": the_whole_case_was_without_a_link,
    "the same id stood for something else: refused": the_same_id_stood_for_something_else,
    "a batch was too large: refused whole, split": a_batch_was_too_large,
}


@pytest.mark.parametrize("row", TABLE.values(), ids=TABLE.keys())
def test_what_becomes_of_what_was_kept(shadow: Shadow, row: Row) -> None:
    row(shadow)


# ---- who sends what is not theirs, or not as it must be: nothing of it is carried out


MISUSED: dict[str, tuple[str, dict[str, Any], int, str | None]] = {
    "a handover of another unit's case": ("crew2", {"kind": "handover", "to": "Dr. Fenn"}, 404, None),
    "a handover of another agency's case": ("outsider_crew", {"kind": "handover", "to": "Dr. Fenn"}, 404, None),
    "a close by a supervisor": ("supervisor", {"kind": "close", "outcome": "died"}, 403, None),
    "a handover to nobody": ("crew", {"kind": "handover"}, 422, "/to"),
    "a handover to 201 characters": ("crew", {"kind": "handover", "to": "x" * 201}, 422, "/to"),
    "a close without an outcome": ("crew", {"kind": "close"}, 422, "/outcome"),
    "a close with another outcome": ("crew", {"kind": "close", "outcome": "won"}, 422, "/outcome"),
    "a handover that lies ahead": ("crew", {"kind": "handover", "to": "a", "at": "2031-01-01T00:00:00Z"}, 422, "/at"),
    "a handover without its case": ("crew", {"kind": "handover", "case": None, "to": "a"}, 422, "/case"),
    "a handover without an id": ("crew", {"kind": "handover", "id": None, "to": "a"}, 422, "/id"),
    "a misspelt field": ("crew", {"kind": "close", "outcome": "died", "reson": "x"}, 422, "/reson"),
    "a reopening": ("physician", {"kind": "reopen", "reason": "x"}, 422, "/kind"),
}


@pytest.mark.parametrize(("who", "entry", "status", "pointer"), MISUSED.values(), ids=MISUSED.keys())
def test_what_may_not_be_sent_ends_no_case(cast, shadow, who, entry, status, pointer) -> None:
    named = {"id": new_id(), "case": shadow.story.case} | entry
    sent = {name: value for name, value in named.items() if value is not None}
    answer = shadow.post([sent], by=getattr(cast, who))
    if answer.status_code == 403:  # the whole batch: this role enters nothing
        assert status == 403
    else:
        (result,) = answer.json()["results"]
        errors = result["problem"].get("errors", [])
        assert (result["status"], pointer in [each["pointer"] for each in errors]) == (status, pointer is not None)
    assert shadow.story.card()["state"] == "open"
