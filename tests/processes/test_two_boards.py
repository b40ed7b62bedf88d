"""Two boards on one machine, each with its port and its database, never meet; one signal ends all of one.

A signal that comes is the same to the board whichever it is: Ctrl-C by day in `test_demo.py`, here at night.
"""

import os
import signal
from pathlib import Path

import pytest

from consult.service.environment import short_name
from tests.depth import NIGHT
from tests.processes.board_process import alive

pytestmark = pytest.mark.processes


def environment_of(pid: int) -> dict[str, str]:
    lines = Path(f"/proc/{pid}/environ").read_bytes().decode().split("\0")
    return dict(line.split("=", 1) for line in lines if "=" in line)


@pytest.mark.parametrize("number", [signal.SIGTERM, *([signal.SIGINT] if NIGHT else [])], ids=lambda each: each.name)
def test_each_has_its_own_processes_redis_key_and_data_and_goes_on_when_the_other_stops(make_board, number):
    first, second = make_board(), make_board(HTTPS="true", ALLOWED_HOSTS="127.0.0.1")
    assert not set(first.children().values()) & set(second.children().values())
    addresses = {environment_of(board.children()["web"])["REDIS_URL"] for board in (first, second)}
    assert len(addresses) == 2
    keys = {(board.folder / "board.sqlite3.secret-key").read_text() for board in (first, second)}
    assert len(keys) == 2
    children = first.children()
    assert set(children) == {"valkey", "web", "worker", "beat"}
    assert len(first.private_folders) == 1
    seconds = first.signal(number)
    assert first.process.returncode == 0, first.text
    assert seconds < 10  # the contract; about one on an idle machine
    assert [name for name, pid in children.items() if alive(pid)] == []
    assert first.private_folders == [], "the run's private folder is left behind"
    assert second.ready
    assert set(second.children()) == {"valkey", "web", "worker", "beat"}


def test_databases_of_one_name_in_different_places_get_different_names():
    engine = "django.db.backends.sqlite3"
    names = {short_name({"ENGINE": engine, "NAME": f"{os.sep}{folder}/board.sqlite3"}) for folder in ("one", "two")}
    assert len(names) == 2
