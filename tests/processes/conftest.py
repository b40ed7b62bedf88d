"""Boards that run as real processes."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.processes.board_process import BoardProcess, prepared


@pytest.fixture(autouse=True)
def _served_nowhere_yet(settings: Any, tmp_path: Path) -> None:
    """What was served from this checkout is nothing to the commands of a test."""
    settings.ADDRESS_FILE = tmp_path / "address"


@pytest.fixture
def make_board(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[..., BoardProcess]]:
    """Starts boards, each in a folder of its own with a prepared database, and ends them all after the test."""
    boards: list[BoardProcess] = []

    def make(**environment: str) -> BoardProcess:
        folder = tmp_path_factory.mktemp("b")
        prepared(folder, tmp_path_factory)
        boards.append(BoardProcess(folder))
        boards[-1].environment |= environment
        return boards[-1].start()

    yield make
    for board in boards:
        board.end()


@pytest.fixture
def board(make_board: Callable[..., BoardProcess]) -> BoardProcess:
    """One running board."""
    return make_board()
