"""A case of which no physician has control: contract, `not_accepted`, 3 min after opening or a release; medium."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import uuid4

import pytest

from consult import problems
from consult.actions import alerts, cases, orders
from consult.actions.entry import Written
from consult.models import Alert
from tests.conftest import NOON, Consult, later

REFUSED: Any = problems.WrongState


def release(consult: Consult, at: datetime, by: str = "merrin", **more: Any) -> Written:
    return cases.release(getattr(consult.cast, by), consult.uid, {"id": uuid4(), **more}, at)


def accept(consult: Consult, at: datetime, by: str = "merrin") -> None:
    cases.accept(getattr(consult.cast, by), consult.uid, {"id": uuid4()}, at)


def told(consult: Consult, at: datetime) -> list[tuple[str, str, str]]:
    """The alert that nobody has control, once time has done its work."""
    alerts.sweep(at)
    return [
        (each["kind"], each["priority"], each["text"])
        for each in consult.card["alerts"]
        if each["kind"] == "not_accepted"
    ]


def test_three_minutes_after_it_was_heard_of_it_is_told(consult: Consult) -> None:
    """Twenty minutes in the crew's pocket are no delay of a physician: it counts from when the board knew."""
    assert consult.card["not_accepted_since"] == "2030-01-05T12:00:00Z"
    assert told(consult, later(minutes=2, seconds=59)) == []
    assert told(consult, later(minutes=3)) == [
        ("not_accepted", "medium", "No physician has control since 12:00 UTC"),
    ]


@pytest.mark.parametrize("how", ["accepts", "decides"])
def test_it_ends_when_a_physician_has_control(consult: Consult, how: str) -> None:
    asked = consult.ask().resource.id
    assert told(consult, later(minutes=4))
    if how == "accepts":
        accept(consult, later(minutes=5))
    else:
        orders.decide(consult.cast.merrin, asked, {"decision": "decline", "reason": "fluid first"}, later(minutes=5))

    assert told(consult, later(minutes=30)) == []
    assert consult.card["not_accepted_since"] is None
    assert Alert.objects.get(kind="not_accepted").cleared_at == later(minutes=5)


def test_given_up_it_counts_anew(consult: Consult) -> None:
    accept(consult, later(minutes=1))
    release(consult, later(minutes=10), reason="called to the resuscitation room")

    assert consult.card["physician"] is None
    assert consult.card["not_accepted_since"] == "2030-01-05T12:10:00Z"
    assert told(consult, later(minutes=12, seconds=59)) == []
    assert told(consult, later(minutes=13))
    line = next(each for each in consult.journal if each["kind"] == "case.released")
    assert line["data"] == {"physician": "Dr. Merrin", "reason": "called to the resuscitation room"}


def test_given_up_and_taken_within_three_minutes_it_tells_nobody(consult: Consult) -> None:
    for minute in range(0, 40, 4):
        accept(consult, later(minutes=minute), by=("merrin", "quillan")[minute // 4 % 2])
        release(consult, later(minutes=minute + 2), by=("merrin", "quillan")[minute // 4 % 2])
        alerts.sweep(later(minutes=minute + 3))

    assert "alert.raised" not in [kind for kind, line in zip(consult.kinds, consult.journal, strict=True)
                                  if line["data"].get("alert_kind") == "not_accepted"]  # fmt: skip


def test_unheeded_it_goes_to_the_other_physicians_and_then_to_the_supervisor(consult: Consult) -> None:
    for minutes in (3, 5, 7):
        alerts.sweep(later(minutes=minutes))

    told_to = [line["data"]["to"] for line in consult.journal if line["kind"] == "alert.escalated"]
    assert told_to[:2] == ["physicians", "supervisor"]


def test_acknowledged_it_stays_until_somebody_takes_control(consult: Consult) -> None:
    alerts.sweep(later(minutes=3))
    alert = Alert.objects.get(kind="not_accepted")
    alerts.acknowledge(consult.cast.averill, alert.uid, {"id": uuid4()}, later(minutes=4))

    assert told(consult, later(minutes=20))
    accept(consult, later(minutes=21))
    assert told(consult, later(minutes=21)) == []


def test_a_case_that_has_ended_wants_nobody(consult: Consult) -> None:
    alerts.sweep(later(minutes=3))
    cases.handover(consult.cast.osk, consult.uid, {"to": "Ashgrove"}, later(minutes=4))
    assert told(consult, later(minutes=30)) == []

    cases.reopen(consult.cast.merrin, consult.uid, {"reason": "turned back"}, later(minutes=31))
    assert told(consult, later(minutes=33)) == [], "counted from the reopening"
    assert told(consult, later(minutes=34))


@pytest.mark.parametrize("state", ["nobody has it", "a colleague has it", "it has ended"])
def test_only_who_has_control_of_an_open_case_gives_it_up(consult: Consult, state: str) -> None:
    if state != "nobody has it":
        accept(consult, NOON, by="quillan" if state == "a colleague has it" else "merrin")
    if state == "it has ended":
        cases.close(consult.cast.osk, consult.uid, {"outcome": "moved"}, NOON)
    seq = consult.row.seq

    with pytest.raises(REFUSED):
        release(consult, NOON)
    assert consult.row.seq == seq


def test_the_same_release_sent_twice_is_one(consult: Consult) -> None:
    accept(consult, NOON)
    data = {"id": uuid4(), "reason": "resting"}
    first = cases.release(consult.cast.merrin, consult.uid, data, NOON)
    accept(consult, later(minutes=1), by="quillan")
    again = cases.release(consult.cast.merrin, consult.uid, data, later(minutes=2))

    assert (first.created, again.created, first.seq) == (True, False, again.seq)
    assert consult.card["physician"]["name"] == "Dr. Quillan"
