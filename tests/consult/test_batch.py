"""A batch is taken in whole before anything is said about its cases: no alarm for what its next entry answers."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

import pytest

from consult import hints
from consult.actions import alerts, batch
from tests.conftest import NOON, Consult, earlier, later

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
