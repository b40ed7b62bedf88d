"""The sweep's second trigger: silent while the first works, at work from the moment that it does not."""

import threading
from datetime import UTC, datetime, timedelta

import pytest
from django.db import OperationalError

from consult import heartbeat
from consult.actions import alerts, notifications
from consult.models import Heartbeat
from consult.service.backup_sweep import SecondTrigger, tell_outside

NOON = datetime(2030, 1, 5, 12, 0, tzinfo=UTC)


def seconds(number: float) -> timedelta:
    return timedelta(seconds=number)


def beat_at(when: datetime) -> None:
    Heartbeat.objects.update_or_create(name="sweep", defaults={"at": when})


@pytest.fixture
def trigger() -> SecondTrigger:
    return SecondTrigger(threading.Event())


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("age", "sweeps"),
    [(0, False), (1, False), (4.9, False), (5, True), (600, True)],
    ids=lambda value: str(value),
)
def test_it_sweeps_once_the_heartbeat_is_five_seconds_old(trigger, age, sweeps):
    beat_at(NOON - seconds(age))
    assert trigger.look(NOON) is sweeps
    assert heartbeat.last("sweep") == (NOON if sweeps else NOON - seconds(age))


@pytest.mark.django_db
def test_it_sweeps_at_once_where_nothing_ever_did(trigger):
    assert trigger.look(NOON) is True


@pytest.mark.django_db
def test_it_goes_on_each_second_while_the_newest_heartbeat_is_its_own(trigger):
    beat_at(NOON - seconds(6))
    assert [trigger.look(NOON + seconds(n)) for n in range(4)] == [True] * 4


@pytest.mark.django_db
def test_it_falls_silent_when_the_first_trigger_is_back(trigger):
    trigger.look(NOON)
    beat_at(NOON + seconds(0.5))
    assert trigger.look(NOON + seconds(1)) is False


@pytest.mark.django_db
def test_a_fault_of_the_database_does_not_end_it(trigger, monkeypatch):
    tries = []

    def faulty(now):
        tries.append(now)
        if len(tries) == 2:
            trigger.stopping.set()
        raise OperationalError("database is locked")

    monkeypatch.setattr(alerts, "sweep", faulty)
    monkeypatch.setattr("consult.service.backup_sweep.EVERY_SECONDS", 0)
    monkeypatch.setattr("consult.service.backup_sweep.close_old_connections", lambda: None)
    trigger.run()
    assert len(tries) == 2


def test_it_also_tells_outside_beside_its_sweeps_one_after_the_other(trigger, monkeypatch):
    told, go = [], threading.Event()

    def deliver(now):
        told.append(now)
        assert go.wait(5)

    monkeypatch.setattr(notifications, "deliver", deliver)
    trigger.tell()
    first = trigger.telling
    trigger.tell()
    assert trigger.telling is first, "whoever takes 5 s to answer is not asked again meanwhile"
    go.set()
    first.join(5)
    trigger.tell()
    trigger.telling.join(5)
    assert len(told) == 2


def test_a_fault_of_the_database_costs_no_later_telling(monkeypatch, caplog):
    def deliver(now):
        raise OperationalError

    monkeypatch.setattr(notifications, "deliver", deliver)
    monkeypatch.setattr("consult.service.backup_sweep.close_old_connections", lambda: None)
    tell_outside()
    assert "OperationalError" in caplog.text
