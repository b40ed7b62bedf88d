"""Nothing that a unit recorded is lost on the way, and nothing counts twice."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import httpx
import pytest

from consult.simulation.entries import Entry, new_id, stamp
from consult.simulation.link import Link
from consult.simulation.outbox import LONGEST_WAIT, Outbox
from tests.simulation.fake_board import FakeBoard

NOW = datetime(2030, 1, 5, 10, tzinfo=UTC)
CASE = new_id()


@pytest.fixture
def board() -> FakeBoard:
    return FakeBoard()


@pytest.fixture
def outbox(board: FakeBoard) -> Outbox:
    return Outbox("Wren 5", board.link())


def note(number: int) -> Entry:
    return Entry("note", CASE, {"at": stamp(NOW), "text": f"note {number}"})


def vitals(hr: int = 80) -> Entry:
    return Entry("vitals", CASE, {"taken_at": stamp(NOW), "hr": hr, "source": "monitor"})


def in_seconds(seconds: float) -> datetime:
    return NOW + timedelta(seconds=seconds)


def test_a_few_entries_go_one_by_one_in_order(board: FakeBoard, outbox: Outbox) -> None:
    for number in range(3):
        outbox.put(note(number))
    outbox.flush(NOW)

    assert [content["text"] for content in board.of("note")] == ["note 0", "note 1", "note 2"]
    assert board.batches == []


def test_many_go_as_one_batch_that_says_when_it_was_sent(board: FakeBoard, outbox: Outbox) -> None:
    for number in range(9):
        outbox.put(note(number))
    outbox.flush(NOW)

    assert len(board.batches) == 1
    assert datetime.fromisoformat(board.batches[0]["sent_at"]) == NOW
    assert board.faults == []
    assert outbox.waiting == []


def test_in_a_batch_the_case_comes_first_then_the_readings(board: FakeBoard, outbox: Outbox) -> None:
    for entry in (note(1), vitals(), Entry("case", "", {"opened_at": stamp(NOW), "patient": {}}, id=CASE), note(2)):
        outbox.put(entry)
    outbox.flush(NOW)

    assert [entry["kind"] for entry in board.batches[0]["entries"]] == ["case", "vitals", "note", "note"]


def test_a_long_history_is_cut_into_batches_that_the_contract_takes(board: FakeBoard, outbox: Outbox) -> None:
    for number in range(460):
        outbox.put(note(number))
    outbox.flush(NOW)

    assert [len(batch["entries"]) for batch in board.batches] == [150, 150, 150, 10]


@pytest.mark.parametrize("count", [1, 8], ids=["alone", "in a batch"])
def test_a_failing_server_gets_the_same_ids_again(board: FakeBoard, outbox: Outbox, count: int) -> None:
    entries = [note(number) for number in range(count)]
    for entry in entries:
        outbox.put(entry)
    board.fail_next(2)
    for seconds in range(10):
        outbox.flush(in_seconds(seconds))

    assert [content["id"] for content in board.of("note")] == [entry.id for entry in entries]


def test_no_connection_is_waited_out_longer_each_time_and_never_raises(board: FakeBoard, outbox: Outbox) -> None:
    tried = []
    board.silent = True
    outbox.put(note(1))
    for second in range(120):
        before = outbox._not_before
        outbox.flush(in_seconds(second))
        if outbox._not_before != before:
            tried.append(second)
    gaps = [later - earlier for earlier, later in pairwise(tried)]
    board.silent = False
    outbox.flush(in_seconds(200))

    assert gaps == sorted(gaps)
    assert gaps[-1] <= LONGEST_WAIT.total_seconds() + 1
    assert len(board.of("note")) == 1


@pytest.mark.parametrize("status", [409, 422])
def test_a_refused_entry_is_put_aside_and_costs_no_other(board: FakeBoard, outbox: Outbox, status: int) -> None:
    board.refuse = lambda kind, content: status if content.get("text") == "note 1" else None
    for number in range(3):
        outbox.put(note(number))
    outbox.flush(NOW)

    assert [content["text"] for content in board.of("note")] == ["note 0", "note 2"]
    assert [entry.content["text"] for entry, _ in outbox.refused] == ["note 1"]
    assert outbox.waiting == []


@pytest.mark.parametrize("count", [1, 6], ids=["alone", "in a batch"])
def test_what_is_too_much_at_once_is_kept_and_sent_again_when_the_server_says(
    board: FakeBoard, outbox: Outbox, count: int
) -> None:
    tried = []
    board.retry_after = 20
    board.refuse = lambda kind, content: tried.append(kind) or (429 if kind == "note" else None)  # type: ignore[func-returns-value]
    for number in range(count):
        outbox.put(note(number))
    outbox.put(vitals())
    outbox.flush(NOW)
    assert len(outbox.waiting) == (2 if count == 1 else count)
    tried.clear()
    outbox.flush(in_seconds(19))
    assert tried == []

    board.refuse, board.retry_after = lambda kind, content: None, None
    outbox.flush(in_seconds(20))
    assert (len(board.of("note")), len(board.of("vitals"))) == (count, 1)
    assert outbox.waiting == outbox.refused == []


def test_what_only_lacked_a_failed_entry_is_sent_again_with_it(board: FakeBoard, outbox: Outbox) -> None:
    answers: dict[str, int | None] = {"note 0": 500, "note 1": 404}
    board.refuse = lambda kind, content: answers.get(content["text"])
    for number in range(5):
        outbox.put(note(number))
    outbox.flush(NOW)
    answers.clear()
    outbox.flush(in_seconds(5))

    assert sorted(content["text"] for content in board.of("note")) == [f"note {number}" for number in range(5)]
    assert outbox.refused == []


def test_an_answer_that_got_lost_gives_no_second_entry(board: FakeBoard) -> None:
    """The server took it, the unit never heard so: the same id again is answered 200 and stays one."""
    lose = [True]

    def answer(request: httpx.Request) -> httpx.Response:
        response: Any = board._answer(request)
        if lose.pop() if lose else False:
            raise httpx.ReadTimeout("too slow", request=request)
        return response

    outbox = Outbox("Wren 5", Link("http://board.test", "token", transport=httpx.MockTransport(answer)))
    outbox.put(note(1))
    outbox.flush(NOW)
    outbox.flush(in_seconds(2))

    assert len(board.of("note")) == 1
    assert outbox.waiting == outbox.refused == []
