"""A batch is taken in whole before anything is said about its cases: no alarm for what its next entry answers."""

from __future__ import annotations

from contextlib import suppress
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection, transaction

from consult import hints
from consult.actions import alerts, batch, vitals
from consult.problems import Unavailable
from tests.conftest import NOON, Cast, Consult, earlier, later, open_consult

PUSH = "epinephrine-push-dose"


def test_a_dose_before_its_reading_is_not_overdue_for_a_moment(consult: Consult) -> None:
    with batch.arriving(consult.cast.osk, NOON) as arrival:
        consult.vitals(at=earlier(minutes=11), now=NOON, arrival=arrival, sbp=84, dbp=50)
        consult.give(PUSH, 10, "mcg", at=earlier(minutes=10), now=NOON, arrival=arrival)
        assert consult.alerts == set()
        consult.vitals(at=earlier(minutes=8), now=NOON, arrival=arrival, sbp=110, dbp=70, hr=90)

    assert "alert.raised" not in consult.kinds
    assert consult.card["reassessments"] == []


def test_what_stands_after_the_last_entry_is_raised(consult: Consult) -> None:
    with batch.arriving(consult.cast.osk, NOON) as arrival:
        consult.vitals(at=earlier(minutes=9), now=NOON, arrival=arrival, sbp=60, dbp=30)
        consult.vitals(at=earlier(minutes=6), now=NOON, arrival=arrival, sbp=88, dbp=44)
        consult.give(PUSH, 10, "mcg", at=earlier(minutes=5), now=NOON, arrival=arrival)

    assert consult.alerts == {"low_pressure", "reassessment_overdue"}
    assert consult.kinds.count("alert.raised") == 2


def test_a_dose_outside_its_limits_does_not_wait(consult: Consult) -> None:
    with batch.arriving(consult.cast.osk, NOON) as arrival:
        consult.give(PUSH, 30, "mcg", at=earlier(minutes=10), now=NOON, arrival=arrival)
        assert consult.alerts == {"dose_outside_limits"}


def test_what_others_enter_between_two_of_its_entries_stays(consult: Consult) -> None:
    """The next entry goes on from the state after the last one only where nothing has come between."""
    with batch.arriving(consult.cast.osk, NOON) as arrival:
        consult.vitals(at=earlier(minutes=9), now=NOON, arrival=arrival, sbp=84, dbp=50)
        consult.give(PUSH, 10, "mcg", at=earlier(minutes=8), now=NOON)
        consult.vitals(at=earlier(minutes=7), now=NOON, arrival=arrival, sbp=96, dbp=60)

    assert [each["treatment"] for each in consult.card["doses"]] == [PUSH]
    assert [each["sbp"] for each in consult.card["trend"]] == [84, 96]


def test_a_batch_that_breaks_off_is_settled_by_the_sweep(consult: Consult) -> None:
    consult.vitals(at=earlier(minutes=11), now=NOON, sbp=84, dbp=56)
    with suppress(KeyboardInterrupt), batch.arriving(consult.cast.osk, NOON) as arrival:
        consult.give(PUSH, 10, "mcg", at=earlier(minutes=10), now=NOON, arrival=arrival)
        raise KeyboardInterrupt
    assert consult.alerts == set()

    alerts.sweep(later(seconds=5))
    assert consult.alerts == {"reassessment_overdue"}


def test_boards_are_told_of_readings_at_the_end_and_of_an_alarm_at_once(
    consult: Consult, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    told: list[int] = []
    monkeypatch.setattr(hints, "tell", lambda _, seq: told.append(seq))
    with batch.arriving(consult.cast.osk, NOON) as arrival, django_capture_on_commit_callbacks(execute=True):
        consult.vitals(at=earlier(minutes=12), now=NOON, arrival=arrival, sbp=96, dbp=60)
        consult.vitals(at=earlier(minutes=11), now=NOON, arrival=arrival, sbp=98, dbp=60)
    assert told == [consult.row.seq]

    with batch.arriving(consult.cast.osk, NOON) as arrival:
        with django_capture_on_commit_callbacks(execute=True):
            consult.give(PUSH, 30, "mcg", at=earlier(minutes=10), now=NOON, arrival=arrival)
        assert told[1:] == [consult.row.seq]


def forgotten(consult: Consult) -> None:
    """A batch during which the database comes down with an entry that it had not on disk yet, and then starts again."""
    with batch.arriving(consult.cast.osk, NOON) as arrival:
        with suppress(KeyboardInterrupt), transaction.atomic():
            consult.vitals(at=earlier(minutes=9), now=NOON, arrival=arrival, sbp=60, dbp=30)
            raise KeyboardInterrupt
        consult.vitals(at=earlier(minutes=8), now=NOON, sbp=62, dbp=30)  # another device's, under the same number


def test_a_batch_of_which_the_database_forgot_an_entry_is_not_answered(consult: Consult) -> None:
    """The unit has to send all of it again."""
    with pytest.raises(Unavailable):
        forgotten(consult)


def flushed_to() -> tuple[int, int]:
    """How far PostgreSQL's log is written, and how far it is on disk, in bytes."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_current_wal_insert_lsn() - '0/0', pg_current_wal_flush_lsn() - '0/0'")
        written, on_disk = cursor.fetchone()
    return int(written), int(on_disk)


@pytest.mark.postgresql
def test_an_answered_batch_is_on_disk_and_so_is_an_answered_repetition(
    transactional_db: None, request: pytest.FixtureRequest
) -> None:
    cast: Cast = request.getfixturevalue("cast")
    consult, entry = open_consult(cast), {"id": uuid4(), "taken_at": earlier(minutes=9), "sbp": 60, "dbp": 30}
    with batch.arriving(cast.osk, NOON) as arrival:
        vitals.record_vitals(cast.osk, consult.uid, entry, NOON, arrival=arrival)
        first, _ = flushed_to()
        assert not vitals.record_vitals(cast.osk, consult.uid, entry, NOON).created
        assert flushed_to()[1] >= first

        consult.vitals(at=earlier(minutes=8), now=NOON, arrival=arrival, sbp=62, dbp=30)
        last, _ = flushed_to()
    assert flushed_to()[1] >= last
