"""A physician's question about a request: it stops the clock for 2 min at most; the answer stands in the order.

Two minutes are the contract's ("Orders"); common practice, no source.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from consult.actions import alerts, orders
from consult.clock import when
from consult.journal import verify
from consult.render.journal import timeline
from consult.render.order_story import sentence
from tests.conftest import NOON, Consult, later


@pytest.fixture
def asked(consult: Consult) -> UUID:
    consult.vitals(sbp=80, dbp=40, lungs="clear")
    return UUID(consult.ask(30).resource.id)


def ask(consult: Consult, asked: UUID, text: str, minutes: float, by: str = "merrin") -> Any:
    said = {"id": uuid4(), "decision": "ask", "text": text}
    return orders.decide(getattr(consult.cast, by), asked, said, later(minutes=minutes)).resource


def answer(consult: Consult, asked: UUID, text: str, minutes: float) -> Any:
    said = {"id": uuid4(), "text": text}
    return orders.answer(consult.cast.osk, asked, said, later(minutes=minutes)).resource


# A question at 1 min; when the crew writes and whether it answers by that; from when the request waits, and the alarm.
CLOCK = [
    (None, False, 3, 6),
    (2, True, 2, 5),
    (2, False, 2, 5),
    (1.5, True, 1.5, 4.5),
    (3, True, 3, 6),
    (4, True, 3, 6),
    (5.5, False, 3, 6),
]


@pytest.mark.parametrize(("writes", "answers", "waits", "alarm"), CLOCK)
def test_a_question_stops_the_clock_until_the_crew_writes_and_for_two_minutes_at_most(
    consult: Consult, asked: UUID, writes: float | None, answers: bool, waits: float, alarm: float
) -> None:
    told = ask(consult, asked, "Lungs still clear?", 1)
    assert (told.waiting_since, told.paused_until) == (None, later(minutes=3))
    if writes and answers:
        answer(consult, asked, "Clear on both sides.", writes)
    elif writes:
        consult.vitals(at=later(minutes=writes), hr=120)

    (order,) = consult.card["orders"]
    assert when(order["waiting_since"] or order["paused_until"]) == later(minutes=waits)
    alerts.sweep(later(minutes=alarm) - timedelta(seconds=1))
    assert "order_waiting" not in consult.alerts
    alerts.sweep(later(minutes=alarm))
    assert "order_waiting" in consult.alerts


def test_an_alarm_that_stood_ends_with_the_question_and_comes_back_without_an_answer(
    consult: Consult, asked: UUID
) -> None:
    alerts.sweep(later(minutes=3))
    ask(consult, asked, "Which line?", 4)
    assert "order_waiting" not in consult.alerts
    alerts.sweep(later(minutes=9))
    assert "order_waiting" in consult.alerts


def test_questions_and_answers_stand_in_the_order_in_turn(consult: Consult, asked: UUID) -> None:
    first = ask(consult, asked, "Which line?", 1)
    assert (first.question, first.answer) == ("Which line?", None)
    said = answer(consult, asked, "18 G, left forearm", 2)
    assert (said.state, said.question, said.answer) == ("requested", "Which line?", "18 G, left forearm")
    second = ask(consult, asked, "Lungs?", 3, by="quillan")
    assert (second.question, second.answer) == ("Lungs?", None)
    answer(consult, asked, "Clear.", 4)
    decided = {"id": uuid4(), "decision": "approve", "reason": "as answered"}
    approved = orders.decide(consult.cast.merrin, asked, decided, later(minutes=5)).resource

    told = [(step.step, step.by, step.text) for step in approved.steps if step.text]
    assert told == [
        ("asked back", "Dr. Merrin", "Which line?"),
        ("answered", "J. Osk", "18 G, left forearm"),
        ("asked back", "Dr. Quillan", "Lungs?"),
        ("answered", "J. Osk", "Clear."),
    ]
    assert (approved.question, approved.answer, approved.paused_until) == ("Lungs?", "Clear.", None)
    assert verify.fault_in(consult.row) is None


def test_an_answer_is_told_on_the_timeline_and_as_a_sentence(consult: Consult, asked: UUID) -> None:
    ask(consult, asked, "Which line?", 0)
    answer(consult, asked, "18 G", 0)
    (order,) = consult.card["orders"]
    (line,) = [each for each in timeline(consult.journal) if each["kind"] == "order.answered"]

    assert sentence(order) == "J. Osk answered the query at 12:00:00 UTC"
    assert line["by"] == "J. Osk"
    assert "18 G" in line["text"]


def test_an_answer_sent_twice_is_one(consult: Consult, asked: UUID) -> None:
    ask(consult, asked, "Which line?", 0)
    said = {"id": uuid4(), "text": "18 G"}
    first, again = (orders.answer(consult.cast.osk, asked, said, NOON) for _ in range(2))

    assert (first.created, again.created, again.seq) == (True, False, first.seq)
    assert consult.kinds.count("order.answered") == 1
