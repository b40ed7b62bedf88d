"""The second physician of the demonstration: takes what asks for nothing, leaves the others for long, hands on once."""

from __future__ import annotations

from math import inf
from typing import Any

import pytest

from consult.simulation.colleague import (
    OFFERED,
    OFFERS_AFTER_S,
    TAKES_AFTER_S,
    TAKES_LATE_S,
    Colleague,
    waits_for,
)
from consult.simulation.link import Answer
from consult.simulation.scenario import shipped


class Board:
    """A link that knows three open cases and keeps what is posted; `taken` are those that somebody else has."""

    def __init__(self) -> None:
        self.posted: list[tuple[str, Any]] = []
        self.taken: set[str] = set()
        self.person = False  # whether one works by the same account

    def read(self, path: str) -> dict[str, Any]:
        names = {"one": "Kestrel 2", "two": "Plover 8", "three": "Finch 6", "four": "Wren 5"}
        return {"results": [{"id": case, "unit": {"call_sign": name}} for case, name in names.items()]}

    def call(self, method: str, path: str, content: Any) -> Answer:
        self.posted.append((path, content))
        return Answer(409 if path.split("/")[1] in self.taken else 200, {})


@pytest.fixture
def board() -> Board:
    return Board()


@pytest.fixture
def colleague(board: Board) -> Any:
    now = [0.0]
    waits = {"Kestrel 2": inf, "Wren 5": TAKES_LATE_S}
    made: Any = Colleague(board, "merrin", waits, lambda: board.person, clock=lambda: now[0])  # type: ignore[arg-type]

    def at(seconds: float) -> list[tuple[str, Any]]:
        now[0], before = seconds, len(board.posted)
        made.tick()
        return board.posted[before:]

    return at


def test_what_waits_is_taken_once_and_one_units_case_is_left(colleague: Any, board: Board) -> None:
    board.taken = {"three"}
    assert colleague(0) == colleague(TAKES_AFTER_S - 1) == []
    assert [path.split("/")[1] for path, _ in colleague(TAKES_AFTER_S)] == ["two", "three"]
    assert colleague(TAKES_LATE_S - 1)[1:] == []  # but for the offer
    assert [path for path, _ in colleague(TAKES_LATE_S)] == ["cases/four/accept/"]
    assert colleague(10 * TAKES_LATE_S) == []


def test_most_of_the_demonstration_is_left_to_whoever_tries_it() -> None:
    """Of six shipped transports four ask for an order or an answer; two are left to be offered."""
    left = waits_for(shipped())
    taken = {each.call_sign for each in shipped()} - left.keys()
    assert (len(left), len(taken), left["Kestrel 2"]) == (4, OFFERED, inf)
    assert min(left.values()) > OFFERS_AFTER_S


def test_some_of_it_is_offered_once(colleague: Any) -> None:
    colleague(0)
    colleague(TAKES_AFTER_S)
    ((path, offer),) = colleague(OFFERS_AFTER_S)

    assert (path, offer["to"], offer["cases"]) == ("handovers/", "merrin", ["two", "three"])
    assert offer["note"]
    assert colleague(OFFERS_AFTER_S + 60) == []


def test_without_a_case_there_is_nothing_to_offer(colleague: Any, board: Board) -> None:
    board.taken = {"two", "three", "four"}
    colleague(0)
    colleague(TAKES_AFTER_S)
    assert colleague(OFFERS_AFTER_S) == []


@pytest.mark.parametrize("since", [0, TAKES_AFTER_S])
def test_who_signs_in_by_the_account_has_it_alone(colleague: Any, board: Board, since: float) -> None:
    colleague(0)
    colleague(since)
    board.person = True
    assert colleague(OFFERS_AFTER_S) == []
    board.person = False
    assert colleague(TAKES_LATE_S) == []
