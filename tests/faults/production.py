"""The processes of docker-compose.yml on this machine, each alone, so that one can be killed while the others go on."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import httpx
import psycopg
import yaml

from tests.bench.places import REDIS, database, free_port
from tests.processes.board_process import NOT_INHERITED, PROJECT, end_with_the_tests, wait_for

BEFORE = ("web", "worker", "beat", "second-trigger")


class Production:
    """Web, worker, beat and second trigger with the commands of docker-compose.yml, on a database of their own.

    It lies on the server that DATABASE_URL names, and Redis is that of REDIS_URL, unless others are named.
    """

    def __init__(self, name: str, folder: Path, **elsewhere: str) -> None:
        self.name, self.folder, self.port, self.live_port = name, folder, free_port(), free_port()
        plain = {key: value for key, value in os.environ.items() if key not in NOT_INHERITED}
        self.environment = {
            **plain,
            "DATABASE_URL": database(name),
            "REDIS_URL": REDIS,
            "SECRET_KEY": "of-this-run-alone-" * 3,
            "ALLOWED_HOSTS": "127.0.0.1",
            "SEALS_FILE": str(folder / "seals"),
            "PATH": f"{Path(sys.executable).parent}:{plain['PATH']}",
            "PYTHONFAULTHANDLER": "1",  # whatever ends by a signal of its own says where
            **elsewhere,
        }
        self.services: dict[str, Any] = yaml.safe_load((PROJECT / "docker-compose.yml").read_text())["services"]
        self.running: dict[str, subprocess.Popen[bytes]] = {}

    @property
    def base(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def __enter__(self) -> Self:
        try:
            self.prepare()
            for service in BEFORE:
                self.start(service)
            wait_for(self.started)
        except BaseException:
            self.end()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.end()

    def prepare(self) -> None:
        """Make the database ready before the first of them starts."""
        self.manage("migrate", "--no-input")

    def end(self) -> None:
        """Leave none of them behind."""
        for service in tuple(self.running):
            self.kill(service)

    def start(self, service: str) -> None:
        """Start a service as compose would."""
        port = self.live_port if service == "live" else self.port
        words = [_word(word, port) for word in self.services[service]["command"]]
        pool = {"DATABASE_POOL": "8"} if service in ("web", "live") else {}
        with (self.folder / f"{service}.log").open("ab") as log:
            self.running[service] = subprocess.Popen(
                words,
                cwd=PROJECT,
                env={**self.environment, **pool},
                stdout=log,
                stderr=log,
                start_new_session=True,
                preexec_fn=end_with_the_tests,
            )

    def kill(self, service: str) -> None:
        """Kill a service with all its children, without a word."""
        process = self.running.pop(service)
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait(10)

    def manage(self, *words: str, within_s: float = 60) -> str:
        """Run a command on this database."""
        command = [sys.executable, "manage.py", *words]
        return subprocess.run(
            command, cwd=PROJECT, env=self.environment, capture_output=True, text=True, timeout=within_s, check=True
        ).stdout

    def started(self) -> bool:
        """Whether it is all there."""
        return self.ready()

    def ready(self) -> bool:
        """Whether /readyz says so."""
        with suppress(httpx.HTTPError):
            return httpx.get(f"{self.base}/readyz", timeout=5).status_code == 200
        return False

    def cut_the_database_off(self) -> int:
        """End every connection to the database, whatever it is doing; how many there were."""
        with psycopg.connect(database("postgres"), autocommit=True) as server:
            ended = server.execute(
                "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity WHERE datname = %s", [self.name]
            ).fetchone()
        return int(ended[0]) if ended else 0


def _word(word: str, port: int) -> str:
    """A word of the compose file's command as it is on this machine."""
    if word == "python":
        return sys.executable
    return {"--port=8000": f"--port={port}", "--host=0.0.0.0": "--host=127.0.0.1"}.get(word, word)
