"""The regular work: what beat asks for exists, and each task hands the present time to one action."""

import pytest
from django.conf import settings

from consult import clock, tasks
from consult.celery import app

SCHEDULE = settings.CELERY_BEAT_SCHEDULE


@pytest.mark.parametrize("name", sorted(SCHEDULE))
def test_each_entry_of_the_schedule_names_a_task_that_exists(name):
    app.loader.import_default_modules()
    assert SCHEDULE[name]["task"] in app.tasks


def test_the_sweep_ticks_each_second_and_the_seal_each_minute():
    assert {name: entry["schedule"] for name, entry in SCHEDULE.items()} == {
        "sweep": 1.0,
        "notify": 2.0,
        "purge notifications": 3600.0,
        "seal": 60.0,
        "verify journal": 3600.0,
        "downtime sheets": 900.0,
    }


@pytest.mark.parametrize("name", sorted(SCHEDULE))
def test_a_tick_that_nobody_took_in_time_is_dropped(name):
    assert SCHEDULE[name]["options"]["expires"] <= max(5, SCHEDULE[name]["schedule"])


@pytest.mark.parametrize(
    ("task", "action"),
    [
        (tasks.sweep, "consult.actions.alerts.sweep"),
        (tasks.notify, "consult.actions.notifications.deliver"),
        (tasks.purge_notifications, "consult.actions.notifications.purge"),
        (tasks.seal, "consult.journal.seals.seal"),
    ],
    ids=["sweep", "notify", "purge", "seal"],
)
def test_a_task_reads_the_clock_once_and_hands_it_on(monkeypatch, task, action):
    seen = []
    monkeypatch.setattr(clock, "now", lambda: "the present time")
    monkeypatch.setattr(action, lambda now: seen.append(now))
    task()
    assert seen == ["the present time"]


def test_a_half_open_broker_is_noticed():
    options = settings.CELERY_BROKER_TRANSPORT_OPTIONS
    assert options["socket_timeout"] == 10
    assert options["health_check_interval"] == 10
    assert options["visibility_timeout"] == 30


def test_two_boards_on_one_broker_use_different_keys():
    assert settings.SHORT_NAME in settings.CELERY_BROKER_TRANSPORT_OPTIONS["global_keyprefix"]


def test_a_task_longer_than_the_visibility_timeout_is_not_handed_out_twice():
    app.loader.import_default_modules()
    scheduled = [app.tasks[entry["task"]] for entry in SCHEDULE.values()]
    late = [task for task in scheduled if task.acks_late]
    assert tasks.verify_journal.name not in [task.name for task in late]
    assert {task.time_limit or settings.CELERY_TASK_TIME_LIMIT for task in late} == {20}
    assert settings.CELERY_TASK_TIME_LIMIT < settings.CELERY_VISIBILITY_TIMEOUT
