"""What ends by itself is started again after a growing wait, and is told until it has stood for a while."""

from __future__ import annotations

from pathlib import Path

import pytest

from consult.service.revival import LONGEST_WAIT_S, WELL_AFTER_S, Book, Life, read

HOW = "exit code 1"


def waits(*stood: float) -> list[float]:
    """How long it is waited each time, where a process has stood for so many seconds before each of its ends."""
    life, now, found = Life(0.0), 0.0, []
    for seconds in stood:
        now += seconds
        found.append(life.ended(HOW, now))
        now = life.again_at or now
        life.started(now)
    return found


@pytest.mark.parametrize(
    ("stood", "waited"),
    [
        ((500,), [1]),
        ((500, 0, 0, 0), [1, 2, 4, 8]),
        ((3, 3, 3), [1, 2, 4]),
        ((500, 0, 0, WELL_AFTER_S, 0), [1, 2, 4, 1, 2]),
        ((500, 0, 0, WELL_AFTER_S - 1), [1, 2, 4, 8]),
    ],
    ids=["once", "again and again", "from the start", "well in between", "not quite well in between"],
)
def test_the_wait_doubles_until_it_has_stood_for_a_minute(stood: tuple[float, ...], waited: list[float]):
    assert waits(*stood) == waited


def test_no_wait_is_longer_than_half_a_minute():
    assert max(waits(*[0.0] * 20)) == LONGEST_WAIT_S == 30


def test_it_is_told_from_its_end_until_it_has_stood_for_a_minute(tmp_path: Path):
    life, other, book = Life(0.0), Life(0.0), Book(tmp_path / "processes.json")
    lives = [("worker", life), ("beat", other)]

    def told(now: float) -> dict[str, str]:
        book.write(lives, now)
        return read(str(book.file))

    assert told(10) == {}
    life.ended(HOW, 10)
    assert told(10) == {"worker": "ended by itself (exit code 1), not started again"}
    life.started(11)
    assert told(12) == {"worker": "ended by itself (exit code 1), runs again"}
    life.ended("signal 11", 13)
    assert told(13) == {"worker": "ended by itself (signal 11), 2 times, not started again"}
    life.started(15)
    assert told(15 + WELL_AFTER_S - 1) != {}
    assert told(15 + WELL_AFTER_S) == {}


def test_where_nobody_keeps_such_a_book_nothing_is_told(tmp_path: Path):
    assert read("") == read(str(tmp_path / "missing.json")) == {}
