"""Every look of a person at a case is on record; a physician's look is news to the crew and to the clock."""

from __future__ import annotations

from datetime import datetime
from uuid import uuid4

import pytest

from consult.access import Actor
from consult.actions import alerts, looks
from consult.models import AccessRecord
from tests.conftest import NOON, Consult, later
from tests.copying import replace


@pytest.fixture
def merrin(consult: Consult) -> Actor:
    """Dr. Merrin in person, not by a program's token."""
    return replace(consult.cast.merrin, user_id=uuid4())


def look(consult: Consult, who: Actor, at: datetime = NOON) -> None:
    looks.note_look(who, consult.row, "case page", at)


def test_a_look_is_recorded_once_a_minute(consult: Consult, merrin: Actor) -> None:
    for second in (0, 10, 59, 61):
        look(consult, merrin, later(seconds=second))

    assert [record.at for record in AccessRecord.objects.order_by("at")] == [NOON, later(seconds=61)]


def test_a_program_is_not_a_person(consult: Consult) -> None:
    look(consult, consult.cast.merrin)
    assert not AccessRecord.objects.exists()


def test_the_crew_learns_that_its_request_was_seen(consult: Consult, merrin: Actor) -> None:
    consult.vitals(sbp=80, dbp=40, lungs="clear")
    consult.ask(30)
    look(consult, merrin, later(seconds=20))

    order = consult.card["orders"][0]
    assert (order["seen_at"], order["state"]) == ("2030-01-05T12:00:20Z", "requested")
    assert consult.kinds[-1] == "order.seen"


def test_a_supervisors_look_changes_nothing(consult: Consult) -> None:
    consult.vitals(sbp=70, dbp=30)
    before = consult.row.seq
    look(consult, replace(consult.cast.averill, user_id=uuid4()))

    assert consult.row.seq == before
    assert AccessRecord.objects.count() == 1


def test_escalation_waits_two_minutes_for_who_is_looking(consult: Consult, merrin: Actor) -> None:
    consult.vitals(sbp=70, dbp=30)
    look(consult, merrin, later(seconds=50))

    alerts.sweep(later(seconds=100))
    assert consult.card["alerts"][0]["escalated_at"] is None
    alerts.sweep(later(seconds=171))
    assert consult.card["alerts"][0]["escalated_to"] == "physicians"


def test_a_second_look_within_the_minute_counts_too(consult: Consult, merrin: Actor) -> None:
    look(consult, merrin)
    consult.vitals(at=later(seconds=10), sbp=70, dbp=30)
    consult.ask(30, at=later(seconds=20))
    look(consult, merrin, later(seconds=50))

    assert consult.card["orders"][0]["seen_at"] == "2030-01-05T12:00:50Z"
    alerts.sweep(later(seconds=169))
    assert {each["escalated_at"] for each in consult.card["alerts"]} == {None}
    assert AccessRecord.objects.count() == 1
