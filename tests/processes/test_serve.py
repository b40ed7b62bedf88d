"""`manage.py serve`: one command starts everything, and starts again what ends by itself.

What a signal ends is in `test_two_boards.py`. Whichever child dies, the parent does the same: beat's death is tried
here, the others' under crews that post (`tests/faults/test_killed.py`); at night all of them here.
"""

import json
import os
import shutil
import signal
import stat
import subprocess
import sys

import pytest

from consult.service import supervisor
from consult.service.child import Child
from tests.depth import NIGHT
from tests.processes.board_process import PROJECT, alive, free_port, running_board, wait_for
from tests.receiver import receiving

pytestmark = [pytest.mark.processes, pytest.mark.xdist_group("serve")]
EVERYTHING = {"valkey", "web", "worker", "beat"}


@pytest.fixture(scope="module")
def one(tmp_path_factory):
    """The one board of this file, made of an empty folder."""
    with running_board(tmp_path_factory.mktemp("s")) as board:
        yield board


@pytest.fixture
def running(one):
    """That board, started again where a test has ended it."""
    return one.start() if one.ended else one


def test_it_starts_every_process_and_is_ready(running):
    assert set(running.children()) == EVERYTHING
    assert running.readiness() == dict.fromkeys(("database", "redis", "sweep", "notifications", "processes"), "ok")
    assert running.get("/healthz") == (200, "ok\n")


MAKE_A_PHYSICIAN = """
import os
os.environ["DJANGO_SETTINGS_MODULE"] = "consult.settings"
import django
django.setup()
from django.core.management import call_command
call_command("create_agency", "Tamar Vale", timezone="America/Denver")
call_command("add_member", "Tamar Vale", "merrin", role="physician")
"""


def test_a_sign_in_link_leads_to_where_the_board_was_served_last(running):
    make = [sys.executable, "-c", MAKE_A_PHYSICIAN]
    told = subprocess.run(make, cwd=PROJECT, env=running.environment, capture_output=True, text=True, check=True).stdout

    assert f"{running.base}/sign-in/link/" in told
    link = told.split()[-1].removeprefix(running.base)
    assert "Set your password" in running.get(link)[1]


WRITE_AN_ESCALATION_DOWN = """
import os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "consult.settings"
import django
django.setup()
from uuid import uuid4
from consult import clock
from consult.actions import accounts, notifications
from consult.models import Notification
now, agency = clock.now(), accounts.make_agency("Fal Rescue")
place, _ = notifications.add(agency, "webhook", sys.argv[1], now, operator="root")
facts = {"agency": "Fal Rescue", "timezone": "UTC", "unit": "Wren 9", "alert": "low_pressure", "priority": "high"}
facts |= {"since": str(now), "escalated_at": str(now), "escalated_to": "supervisor", "case": str(uuid4())}
Notification.objects.create(destination=place, facts=facts, made_at=now, next_try_at=now)
"""


def test_the_worker_tells_outside_what_was_written_down(running):
    with receiving() as receiver:
        write = [sys.executable, "-c", WRITE_AN_ESCALATION_DOWN, receiver.address]
        subprocess.run(write, cwd=PROJECT, env=running.environment, check=True)
        wait_for(lambda: receiver.posts, 20)
        link = json.loads(receiver.posts[0][1])["link"]
    assert link.startswith(f"{running.base}/cases/")


def test_an_occupied_port_ends_it_with_a_clear_line_before_anything_starts(running, monkeypatch, capsys):
    monkeypatch.setattr(signal, "signal", lambda *_: None)  # the test's own process keeps what it does on Ctrl-C
    monkeypatch.setattr(supervisor, "start", pytest.fail)

    assert supervisor.Supervisor("127.0.0.1", running.port).run() == 1

    assert f"Port {running.port} on 127.0.0.1 is taken; name another with --port." in capsys.readouterr().out


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


@pytest.mark.parametrize("name", sorted(EVERYTHING) if NIGHT else ["beat"])
def test_a_child_that_dies_is_started_again_while_the_others_run_and_both_terminal_and_readyz_say_so(running, name):
    before = running.children()
    os.kill(before[name], signal.SIGKILL)
    after = wait_for(lambda: (now := running.children()).keys() == EVERYTHING and now[name] != before[name] and now, 20)
    assert {other for other in EVERYTHING if after[other] == before[other]} == EVERYTHING - {name}
    assert f"The {name} process ended by itself (signal 9); it is started again in " in running.text
    told = wait_for(lambda: running.parts().get("processes"), 20)
    assert f"fails: the {name} process ended by itself (signal 9)" in told
    assert running.get("/healthz") == (200, "ok\n")


def test_a_child_that_dies_before_the_board_is_there_ends_it_with_a_line(tmp_path, monkeypatch, capsys):
    """It would only die again: what is wrong is to be mended first."""
    monkeypatch.setattr(signal, "signal", lambda *_: None)
    monkeypatch.setattr(supervisor, "call_command", lambda *_, **__: None)
    monkeypatch.setattr(supervisor.system_checks, "missing_columns", list)
    monkeypatch.setattr(supervisor.settings, "REDIS_URL", "redis://127.0.0.1:1/0")
    monkeypatch.setattr(supervisor, "web", lambda *_: Child("web", [sys.executable, "-c", "raise SystemExit(3)"]))

    assert supervisor.Supervisor("127.0.0.1", free_port()).run() == 1

    assert "The web process ended by itself (exit code 3); stopping the board." in capsys.readouterr().out


STARTS_A_BOARD_AND_IS_KILLED = """
import os, sys
from pathlib import Path
from tests.processes.board_process import BoardProcess
board = BoardProcess(Path(sys.argv[1])).start()
print(board.process.pid, *board.children().values(), flush=True)
os.kill(os.getpid(), 9)
"""


def test_started_again_it_has_the_same_key_and_nothing_outlives_a_parent_that_is_killed(one):
    """The whole chain: a test run that is killed takes its board along, and the board its children."""
    if not one.ended:
        one.signal()
    key = (one.folder / "board.sqlite3.secret-key").read_text()
    run = [sys.executable, "-c", STARTS_A_BOARD_AND_IS_KILLED, str(one.folder)]
    told = subprocess.run(run, cwd=PROJECT, capture_output=True, text=True, timeout=60, check=False)
    started = [int(pid) for pid in told.stdout.split()]
    assert len(started) == 1 + len(EVERYTHING), told.stderr
    wait_for(lambda: not any(alive(pid) for pid in started), seconds=5)
    assert (one.folder / "board.sqlite3.secret-key").read_text() == key
    for left in one.private_folders:  # nobody was left who could remove it
        shutil.rmtree(left)


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
