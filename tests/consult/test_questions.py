"""Questions and instructions in time: what waits alarms, escalates and ends with what became of it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from consult.actions import alerts, cases, questions
from consult.models import Alert
from tests.conftest import Consult, later


def ask(consult: Consult, **passed: float) -> UUID:
    at, uid = later(**passed), uuid4()
    content = {"id": uid, "at": at, "topic": "advice", "text": "Cool him?"}
    questions.ask(consult.cast.osk, consult.uid, content, at)
    return uid


def tell(consult: Consult, about: UUID | None = None, **passed: float) -> UUID:
    at, uid = later(**passed), uuid4()
    named = {"question": about} if about else {}
    questions.instruct(consult.cast.merrin, consult.uid, {"id": uid, "at": at, "text": "Yes.", **named}, at)
    return uid


def alert(kind: str) -> Alert:
    return Alert.objects.get(kind=kind)


def test_a_question_that_waits_alarms_after_two_minutes_and_climbs_as_others_do(consult: Consult) -> None:
    ask(consult)
    alerts.sweep(later(minutes=1, seconds=59))
    assert "question_waiting" not in consult.alerts
    alerts.sweep(later(minutes=2))
    raised = alert("question_waiting")
    assert (raised.priority, raised.text) == ("medium", "Question waiting since 12:00 UTC: advice")
    for minutes, whom in ((4, "physicians"), (6, "supervisor")):
        alerts.sweep(later(minutes=minutes))
        assert alert("question_waiting").escalated_to == whom


def answered(consult: Consult, about: UUID) -> Any:
    return tell(consult, about, minutes=3)


def withdrawn(consult: Consult, about: UUID) -> Any:
    questions.withdraw_question(consult.cast.osk, about, {"id": uuid4(), "reason": "arrived"}, later(minutes=3))


def closed(consult: Consult, about: UUID) -> Any:
    cases.close(consult.cast.osk, consult.uid, {"outcome": "cancelled"}, later(minutes=3))


@pytest.mark.parametrize(
    ("end", "because"),
    [
        (answered, "answered by Dr. Merrin"),
        (withdrawn, "withdrawn by J. Osk: arrived"),
        (closed, "withdrawn by J. Osk: case ended"),
    ],
)
def test_its_alert_ends_with_what_became_of_it(consult: Consult, end: Any, because: str) -> None:
    about = ask(consult)
    alerts.sweep(later(minutes=2))
    end(consult, about)
    assert alert("question_waiting").cleared_because == because
    assert alert("question_waiting").cleared_at == later(minutes=3)


def step(consult: Consult, name: str, told: UUID) -> Any:
    by = consult.cast.merrin if name == "withdraw_instruction" else consult.cast.osk
    data = {"id": uuid4(), "reason": "moot"} if name == "withdraw_instruction" else {"id": uuid4()}
    return getattr(questions, name)(by, told, data, later(minutes=2))


@pytest.mark.parametrize(
    ("name", "because"),
    [("understood", "understood by J. Osk"), ("withdraw_instruction", "withdrawn by Dr. Merrin: moot")],
)
def test_an_instruction_that_nobody_understands_alarms_after_a_minute(
    consult: Consult, name: str, because: str
) -> None:
    told = tell(consult)
    alerts.sweep(later(seconds=59))
    assert "readback_waiting" not in consult.alerts
    alerts.sweep(later(seconds=60))
    assert alert("readback_waiting").text == "Instruction not confirmed since 12:00 UTC"
    step(consult, name, told)
    assert alert("readback_waiting").cleared_because == because


def test_what_is_told_late_runs_its_clock_from_its_receipt(consult: Consult) -> None:
    """An hour without a link: nobody is late before he could have heard of it."""
    at, received = later(), later(hours=1)
    content = {"id": uuid4(), "at": at, "topic": "advice", "text": "Cool him?"}
    questions.ask(consult.cast.osk, consult.uid, content, received)
    alerts.sweep(received + timedelta(seconds=119))
    assert "question_waiting" not in consult.alerts
    alerts.sweep(received + timedelta(seconds=120))
    assert "question_waiting" in consult.alerts
