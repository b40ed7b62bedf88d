"""`manage.py serve`: one command starts everything, one signal or one death ends everything."""

import os
import signal
import stat
import subprocess
import sys

import pytest

from tests.processes.board_process import PROJECT, alive, running_board, wait_for

pytestmark = [pytest.mark.processes, pytest.mark.xdist_group("serve")]
EVERYTHING = {"valkey", "web", "worker", "beat"}


@pytest.fixture(scope="module")
def running(tmp_path_factory):
    """One board for the tests that only look."""
    with running_board(tmp_path_factory.mktemp("s")) as board:
        yield board


def test_it_starts_every_process_and_is_ready(running):
    assert set(running.children()) == EVERYTHING
    assert running.readiness() == {"database": "ok", "redis": "ok", "sweep": "ok"}
    assert running.get("/healthz") == (200, "ok\n")


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["Ctrl-C", "SIGTERM"])
def test_a_signal_to_the_parent_stops_everything_within_ten_seconds(board, number):
    children = board.children()
    seconds = board.signal(number)
    assert board.process.returncode == 0, board.text
    assert seconds < 10  # the contract; about one on an idle machine
    assert [name for name, pid in children.items() if alive(pid)] == []
    assert list(board.folder.glob("consult-*")) == [], "the run's private folder is left behind"


@pytest.mark.parametrize("name", sorted(EVERYTHING))
def test_a_child_that_dies_takes_the_rest_down_and_says_so(board, name):
    children = board.children()
    os.kill(children[name], signal.SIGKILL)
    assert board.process.wait(10) == 1
    assert f"The {name} process ended by itself (signal 9); stopping the board." in board.text
    assert [other for other, pid in children.items() if alive(pid)] == []


STARTS_A_BOARD_AND_IS_KILLED = """
import os, sys
from pathlib import Path
from tests.processes.board_process import BoardProcess
board = BoardProcess(Path(sys.argv[1])).start()
print(board.process.pid, *board.children().values(), flush=True)
os.kill(os.getpid(), 9)
"""


def test_nothing_outlives_a_parent_that_is_killed(tmp_path):
    """The whole chain: a test run that is killed takes its board along, and the board its children."""
    run = [sys.executable, "-c", STARTS_A_BOARD_AND_IS_KILLED, str(tmp_path)]
    told = subprocess.run(run, cwd=PROJECT, capture_output=True, text=True, timeout=60, check=False)
    started = [int(pid) for pid in told.stdout.split()]
    assert len(started) == 1 + len(EVERYTHING), told.stderr
    wait_for(lambda: not any(alive(pid) for pid in started), seconds=5)


def test_a_sign_in_link_leads_to_where_the_board_was_served_last(running):
    assert running.manage("create_agency", "Tamar Vale", "--timezone", "America/Denver").returncode == 0

    told = running.manage("add_member", "Tamar Vale", "merrin", "--role", "physician").stdout

    assert f"{running.base}/sign-in/link/" in told
    link = told.split()[-1].removeprefix(running.base)
    assert "Set your password" in running.get(link)[1]


def test_an_occupied_port_ends_it_with_a_clear_line_before_anything_starts(running):
    other = running.manage("serve", "--port", str(running.port))
    assert other.returncode == 1
    assert f"Port {running.port} on 127.0.0.1 is taken; name another with --port." in other.stdout
    assert running.ready


def test_a_terminals_ctrl_c_reaches_only_the_parent(running):
    groups = {os.getpgid(pid) for pid in running.children().values()}
    assert os.getpgid(running.process.pid) not in groups
    assert len(groups) == len(EVERYTHING)


def test_embedded_files_lie_beside_the_database_and_are_for_their_owner_alone(running):
    """Files 0600, folders 0700: the database holds patients, the key signs sessions and seals (common practice)."""
    names = {path.name for path in running.folder.glob("board.sqlite3*")}
    assert {"board.sqlite3", "board.sqlite3-wal", "board.sqlite3-shm", "board.sqlite3.secret-key"} <= names
    (socket,) = running.folder.glob("consult-*/redis.sock")
    modes = {path: stat.S_IMODE(path.stat().st_mode) for path in running.folder.rglob("*") if path != running.log}
    assert {path for path, mode in modes.items() if mode & 0o077} == set()
    assert (modes[socket], modes[socket.parent]) == (0o600, 0o700)


def test_it_serves_the_same_key_and_data_again_after_a_restart(running, make_board):
    """Comes last of those that look at the one board: it ends with it."""
    key = (running.folder / "board.sqlite3.secret-key").read_text()
    running.signal()
    again = make_board(folder=running.folder)
    assert (again.folder / "board.sqlite3.secret-key").read_text() == key


@pytest.mark.django_db
def test_a_database_made_by_other_code_is_told_by_the_column_it_lacks():
    from django.db import connection

    from consult import system_checks

    assert system_checks.missing_columns() == []
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE consult_case RENAME COLUMN wake_at TO wakes_at")
        assert system_checks.missing_columns() == ["consult_case.wake_at"]
        cursor.execute("ALTER TABLE consult_note RENAME TO consult_remark")
    assert system_checks.missing_columns() == ["consult_note", "consult_case.wake_at"]


def test_a_board_that_is_served_hands_no_key_of_a_demonstration_on(monkeypatch):
    """The web process inherits the environment: with the key one would sign in by a press."""
    from consult.management.commands import serve

    class Ends:
        def __init__(self, *_):
            assert "DEMONSTRATION_KEY" not in os.environ

        def run(self):
            return 0

    monkeypatch.setenv("DEMONSTRATION_KEY", "left over")
    monkeypatch.setattr(serve, "Supervisor", Ends)
    serve.Command().handle(host="127.0.0.1", port=8000)
