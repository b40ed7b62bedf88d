"""Killed without a word: nothing accepted is lost, nothing stands twice (set checker: accepted, stored, sent)."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.faults.crews import Crew
from tests.processes.board_process import BoardProcess, prepared, running_board, wait_for

pytestmark = pytest.mark.processes


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


def posting(crews: list[Crew], enough: int) -> tuple[threading.Event, list[threading.Thread]]:
    """Let the crews post, until each has had so many sets accepted."""
    ended = threading.Event()
    threads = [threading.Thread(target=crew.post_until, args=(ended,)) for crew in crews]
    for thread in threads:
        thread.start()
    wait_for(lambda: all(len(crew.accepted) >= enough for crew in crews))
    return ended, threads


def hold(crew: Crew) -> None:
    """What was accepted is stored, nothing is that was not sent, and each once."""
    stored = crew.stored()
    assert crew.accepted <= set(stored)
    assert set(stored) <= set(crew.sent)
    assert len(stored) == len(set(stored))


@pytest.mark.parametrize("victim", ["web", "valkey", "worker"])
def test_a_board_that_died_and_came_back_has_every_accepted_set_once(
    board: BoardProcess, crews: list[Crew], victim: str
) -> None:
    ended, threads = posting(crews, enough=40)
    os.kill(board.children()[victim], signal.SIGKILL)
    board.process.wait(15)
    ended.set()
    for thread in threads:
        thread.join()

    board.start()
    for crew in crews:
        hold(crew)
        crew.send_again(set(crew.sent) - crew.accepted | set(list(crew.accepted)[:20]))
        assert sorted(crew.stored()) == sorted(crew.sent)
    assert "The journal is intact." in board.manage("verify_journal").stdout
