"""A restart closes what the last demonstration left open, and nothing else."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from consult.simulation.leftovers import close_leftovers
from tests.simulation.fake_board import FakeBoard

NOW = datetime(2030, 1, 5, 10, tzinfo=UTC)
OLD, OWN = "0191d0c0-0000-7000-8000-000000000009", "0191d0c0-0000-7000-8000-000000000001"


@pytest.mark.parametrize(
    ("incident", "closed"),
    [
        pytest.param("demonstration run Wren 5 1", [OLD], id="of an earlier demonstration"),
        pytest.param("run 4711", [], id="opened by somebody"),
        pytest.param(None, [], id="without an incident"),
    ],
)
def test_only_a_case_of_an_earlier_demonstration_is_closed(incident: str | None, closed: list[str]) -> None:
    board = FakeBoard()
    board.open_cases, board.incident = [{"id": OLD}, {"id": OWN}], incident

    close_leftovers(board.link(), OWN, NOW)

    assert [target for kind, target, _ in board.entries if kind == "close"] == closed
    assert board.faults == []


def test_a_server_that_does_not_answer_is_no_trouble() -> None:
    board = FakeBoard()
    board.silent = True

    close_leftovers(board.link(), OWN, NOW)

    assert board.entries == []
