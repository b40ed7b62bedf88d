"""The reckoning of a shift finds each thing that must not be: each in a book that is right but for that."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from consult.simulation.link import Link
from tests.faults.book import Book, Sent, Wait
from tests.faults.reckoning import Line, Result, alerts, writes

NOON = datetime(2030, 1, 5, 12, tzinfo=UTC)
KILL = (NOON + timedelta(seconds=100), NOON + timedelta(seconds=105))


def at(seconds: float) -> datetime:
    return NOON + timedelta(seconds=seconds)


def line(answered: int = 3, seconds: float = 0) -> Line:
    return Line("case", answered, at(seconds), at(seconds + 0.1))


@pytest.mark.parametrize(
    ("there", "lost", "doubled", "words"),
    [
        ({"a": [line()]}, 0, 0, ""),
        ({}, 1, 0, "lost"),
        ({"a": [line(answered=4)]}, 1, 0, "lost"),
        ({"a": [line(), line()]}, 0, 1, "doubled"),
        ({"a": [line()], "b": [line()]}, 0, 1, "nobody sent b"),
    ],
    ids=["there once", "not there", "under another number", "there twice", "something that nobody sent"],
)
def test_writes(there: dict[str, list[Line]], lost: int, doubled: int, words: str) -> None:
    found, sent = Result(), Sent("a", "cases/1/vitals/", {}, Link("http://127.0.0.1:1", "none"))
    sent.answered(201, 3)
    writes(found, Book(sent=[sent]), there)

    assert (found.acknowledged, found.lost, found.doubled) == (1, lost, doubled)
    assert [fault.startswith(words) for fault in found.faults] == ([True] if words else [])


@pytest.mark.parametrize(
    ("second", "said"),
    [
        ((200, 3), ""),
        ((200, 4), "201 with number 3, then 200 with 4"),
        ((409, None), "201 with number 3, then 409 with None"),
    ],
)
def test_an_entry_sent_again_is_answered_as_before(second: tuple[int, int | None], said: str) -> None:
    sent = Sent("a", "cases/1/vitals/", {}, Link("http://127.0.0.1:1", "none"))
    sent.answered(201, 3)
    sent.answered(*second)

    assert (sent.status, sent.seq, sent.otherwise) == (201, 3, said)


def raised(seconds: float, what: str = "alert.raised") -> tuple[Any, ...]:
    return ("case", "order_waiting", "a", "alert", what, at(seconds))


def reckoned(answered: float | None, *told: tuple[Any, ...], since: float = 0) -> Result:
    """A request that may wait for 5 s, decided so many seconds after NOON, and what was told of it."""
    written = {"a": line(seconds=since)} | ({"b": line(seconds=answered)} if answered is not None else {})
    found, wait = Result(), Wait("case", "order_waiting", "a", "a", 5, ended=["b"])
    alerts(found, Book(waits=[wait]), list(told), written, [KILL])
    return found


def test_answered_in_time_nothing_is_due() -> None:
    assert reckoned(4).due == 0


def test_an_alert_in_time_is_counted_from_the_moment_at_which_it_was_due() -> None:
    found = reckoned(20, raised(5.6))
    assert (found.due, found.missed, found.faults, found.late) == (1, 0, [], [])
    assert found.healthy.seconds == pytest.approx([0.6])


@pytest.mark.parametrize("answered", [None, 20], ids=["never answered", "answered after 20 s"])
def test_an_alert_that_does_not_come_is_missed(answered: float | None) -> None:
    assert reckoned(answered).missed == 1


def test_what_was_answered_while_its_alert_was_late_counts_as_so_late() -> None:
    assert reckoned(9).healthy.seconds == pytest.approx([4])


def test_an_alert_after_more_than_ten_seconds_is_late() -> None:
    assert reckoned(30, raised(15.5)).late


@pytest.mark.parametrize("since", [95, 98], ids=["due in a kill", "due before its end"])
def test_what_was_due_during_a_kill_is_counted_apart(since: float) -> None:
    found = reckoned(since + 20, raised(since + 7), since=since)
    assert (found.healthy.seconds, len(found.through_kills.seconds)) == ([], 1)


@pytest.mark.parametrize(
    ("between", "twice"), [((), 1), ((raised(7, "alert.cleared"),), 0)], ids=["while it is open", "after it ended"]
)
def test_one_cause_is_raised_once_at_a_time(between: tuple[Any, ...], twice: int) -> None:
    assert reckoned(20, raised(6), *between, raised(8)).twice == twice
