"""Killed without a word: nothing accepted is lost, nothing stands twice (set checker: accepted, stored, sent).

One board loses one of its processes again and again under the same crews, each time another, and starts it again.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.depth import NIGHT
from tests.faults.crews import Crew
from tests.processes.board_process import BoardProcess, prepared, running_board, wait_for

pytestmark = pytest.mark.processes
VICTIMS = ("web", "valkey", *(["worker"] if NIGHT else []))
ENOUGH = 25  # sets that each crew has had accepted when the board dies


@pytest.fixture
def accounts(tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    return prepared(tmp_path, tmp_path_factory)


@pytest.fixture
def board(tmp_path: Path, accounts: dict[str, Any]) -> Iterator[BoardProcess]:
    with running_board(tmp_path) as made:
        yield made


@pytest.fixture
def crews(board: BoardProcess, accounts: dict[str, Any]) -> list[Crew]:
    made = [Crew(board.base, accounts[name]["token"]) for name in ("crew", "crew2")]
    for crew in made:
        crew.open()
    return made


@contextmanager
def posting(crews: list[Crew]) -> Iterator[None]:
    """Let the crews post until the block is left, which begins when each has had enough sets accepted."""
    ended, before = threading.Event(), {crew.case: len(crew.accepted) for crew in crews}
    threads = [threading.Thread(target=crew.post_until, args=(ended,)) for crew in crews]
    for thread in threads:
        thread.start()
    try:
        wait_for(lambda: all(len(crew.accepted) >= before[crew.case] + ENOUGH for crew in crews))
        yield
    finally:
        ended.set()
        for thread in threads:
            thread.join()


def dies(board: BoardProcess, victim: str) -> None:
    """Kill this child: the board says so, starts it again, and serves."""
    before = board.children()[victim]
    os.kill(before, signal.SIGKILL)
    wait_for(lambda: board.children().get(victim, before) != before, 30)
    assert f"The {victim} process ended by itself (signal 9); it is started again in " in board.text
    wait_for(lambda: {part for part, how in board.parts().items() if how != "ok"} == {"processes"}, 60)


def hold(crew: Crew) -> None:
    """What was accepted is stored, nothing is that was not sent, and each once."""
    stored = crew.stored()
    assert crew.accepted <= set(stored)
    assert set(stored) <= set(crew.sent)
    assert len(stored) == len(set(stored))


def test_a_board_that_lost_a_process_has_every_accepted_set_once(board: BoardProcess, crews: list[Crew]) -> None:
    for victim in VICTIMS:
        with posting(crews):
            dies(board, victim)
        for crew in crews:
            hold(crew)
    for crew in crews:
        crew.send_again(set(crew.sent) - crew.accepted | set(list(crew.accepted)[:20]))
        assert sorted(crew.stored()) == sorted(crew.sent)
    assert "The journal is intact." in board.manage("verify_journal").stdout
