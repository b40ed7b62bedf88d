"""A board of its own for a test: `manage.py serve` on a free port, with its database in a private folder."""

import contextlib
import ctypes
import fcntl
import http.client
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests import as_installed

PROJECT = Path(__file__).resolve().parents[2]
PR_SET_PDEATHSIG = 1
LIBC = ctypes.CDLL(None) if sys.platform == "linux" else None
# A test run may itself be aimed at PostgreSQL and Redis: these boards stand on the embedded default.
NOT_INHERITED = {"DATABASE_URL", "REDIS_URL", "SECRET_KEY", "ALLOWED_HOSTS", "DEBUG", "HTTPS", "DATABASE_POOL"}


def free_port() -> int:
    """A port that nobody listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(what, seconds: float = 120.0, every: float = 0.05):
    """The first true value of `what()`; fails after `seconds`."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if value := what():
            return value
        time.sleep(every)
    raise AssertionError(f"did not happen within {seconds:.0f} s: {what}")


def die_with_the_tests(number: int = signal.SIGKILL) -> None:
    """Run in a child before its program: it ends when the test run does, even one that is killed."""
    if LIBC is not None:
        LIBC.prctl(PR_SET_PDEATHSIG, number)


def end_with_the_tests() -> None:
    """The same for a program whose own children outlive it where it cannot say goodbye."""
    die_with_the_tests(signal.SIGTERM)


def children_of(*parents: int) -> set[int]:
    """The processes that these started, as they stand now."""
    found = set()
    for entry in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            if int((entry / "stat").read_text().rpartition(")")[2].split()[1]) in parents:
                found.add(int(entry.name))
    return found


def descendants(pid: int) -> set[int]:
    """The processes that this one started, and those that they started."""
    found: set[int] = set()
    while further := children_of(pid, *found) - found:
        found |= further
    return found


class BoardProcess:
    """One running `serve` with all its children."""

    def __init__(self, folder: Path, *words: str, port: int | None = None) -> None:
        self.folder, self.port, self.words = folder, port or free_port(), words
        plain = {name: value for name, value in os.environ.items() if name not in NOT_INHERITED}
        own = {"DATABASE_URL": f"sqlite:///{folder}/board.sqlite3", "TMPDIR": str(folder)}
        self.environment = {**plain, **own, "PYTHONPATH": as_installed.python_path(folder)}
        self.log = folder / "serve.log"
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> "BoardProcess":
        """Start it, for the first time or again, and wait until it is ready and all of it is there."""
        command = [sys.executable, "manage.py", *(self.words or ("serve",)), "--port", str(self.port)]
        with self.log.open("ab") as out:
            self.process = subprocess.Popen(
                command,
                cwd=PROJECT,
                env=self.environment,
                stdout=out,
                stderr=out,
                start_new_session=True,
                preexec_fn=die_with_the_tests,
            )
        # Soon after its end a board is ready again by its old heartbeat, before it has started what sweeps.
        wait_for(lambda: self.ended or (self.ready and {"worker", "beat"} <= self.children().keys()))
        assert not self.ended, self.text
        return self

    def manage(self, *words: str) -> subprocess.CompletedProcess[str]:
        """Run another command on this board's database, as a second terminal would."""
        command = [sys.executable, "manage.py", *words]
        return subprocess.run(
            command, cwd=PROJECT, env=self.environment, capture_output=True, text=True, timeout=60, check=False
        )

    @property
    def ended(self) -> bool:
        return self.process.poll() is not None

    @property
    def ready(self) -> bool:
        return self.get("/readyz")[0] == 200

    @property
    def text(self) -> str:
        return self.log.read_text(errors="replace")

    @property
    def base(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def get(self, path: str, token: str = "") -> tuple[int, str]:
        """Status and body; status 0 while nobody listens."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        with contextlib.suppress(OSError, http.client.HTTPException):
            connection.request("GET", path, headers={"Authorization": f"Token {token}"} if token else {})
            answer = connection.getresponse()
            return answer.status, answer.read().decode()
        return 0, ""

    def readiness(self) -> dict[str, str]:
        return json.loads(self.get("/readyz")[1])

    def parts(self) -> dict[str, str]:
        """The same; nothing while nobody answers."""
        return json.loads(self.get("/readyz")[1] or "{}")

    @property
    def private_folders(self) -> list[Path]:
        """The folder of a run, which is there while it runs."""
        return list(self.folder.glob("consult-*"))

    def children(self) -> dict[str, int]:
        """Name and process id of each child, told apart by its command line."""
        names = {
            "valkey": "valkey-ser",
            "worker": "worker",
            "beat": "consult.beat",
            "web": "uvicorn",
            "simulate": "simulate",
        }
        found = {}
        for pid in children_of(self.process.pid):
            with contextlib.suppress(OSError):
                line = Path(f"/proc/{pid}/cmdline").read_text().replace("\0", " ")
                found |= {name: pid for name, word in names.items() if word in line}
        return found

    def signal(self, number: int = signal.SIGINT) -> float:
        """Send a signal to the parent alone and wait for its end; the seconds that it took."""
        began = time.monotonic()
        self.process.send_signal(number)
        self.process.wait(15)
        return time.monotonic() - began

    def end(self) -> None:
        """Leave nothing behind, whatever the test did."""
        if self.process is None:
            return
        started = descendants(self.process.pid)
        if not self.ended:
            self.process.kill()
            self.process.wait()
        for pid in started:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)


@contextlib.contextmanager
def running_board(folder: Path, *words: str) -> Iterator[BoardProcess]:
    """A board that runs until the block is left, whatever happens in it."""
    board = BoardProcess(folder, *words)
    try:
        yield board.start()
    finally:
        board.end()


@contextlib.contextmanager
def process(*command: str, environment: dict[str, str]) -> Iterator[subprocess.Popen[bytes]]:
    """A program that runs until the block is left; then it is gone, and so is all that it started."""
    quiet = subprocess.DEVNULL
    started = subprocess.Popen(
        command,
        cwd=PROJECT,
        env=environment,
        stdout=quiet,
        stderr=quiet,
        start_new_session=True,
        preexec_fn=end_with_the_tests,
    )
    try:
        yield started
        started.terminate()
        started.wait(15)
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(started.pid, signal.SIGKILL)
        started.wait()


PREPARE = """
import django
django.setup()
from django.core.management import call_command
from django.db import connection
call_command("migrate", verbosity=0)
connection.close()
import shutil
shutil.copy("{place}/board.sqlite3", "{place}/tables.sqlite3")
call_command("demo_accounts", "--json")
"""


def prepared(folder: Path, factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Put a database with tables and demonstration accounts into `folder`; the accounts."""
    place = _made_once(factory)
    shutil.copy(place / "board.sqlite3", folder)
    made: dict[str, Any] = json.loads((place / "accounts.json").read_text())
    return made


def with_tables(folder: Path, factory: pytest.TempPathFactory) -> Path:
    """Put a database with tables, and nothing in them, into `folder`; the folder."""
    shutil.copy(_made_once(factory) / "tables.sqlite3", folder / "board.sqlite3")
    return folder


def _made_once(factory: pytest.TempPathFactory) -> Path:
    """Both databases, made once for all workers of a run: they cost more than all else of a board's start."""
    # Each worker's folder lies in that of the run.
    place = factory.getbasetemp()
    place = (place.parent if "PYTEST_XDIST_WORKER" in os.environ else place) / "prepared"
    place.mkdir(exist_ok=True)
    with (place / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (place / "accounts.json").exists():
            environment = BoardProcess(place).environment | {"DJANGO_SETTINGS_MODULE": "consult.settings"}
            told = subprocess.run(
                [sys.executable, "-c", PREPARE.format(place=place)],
                cwd=PROJECT,
                env=environment,
                capture_output=True,
                text=True,
                check=True,
            )
            (place / "accounts.json").write_text(told.stdout)
    return place


def alive(pid: int) -> bool:
    """Whether the process still runs; one that has ended but was not waited for does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False
