"""The board with a database and a Redis of its own, of which each part can be killed and comes back."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import psycopg

from tests.faults.production import Production
from tests.faults.servers import Postgres, Redis, one_of
from tests.processes.board_process import PROJECT, wait_for

VICTIMS = ("web", "worker", "redis", "database")
RULES = Path(__file__).with_name("short_times.toml")
BACK_WITHIN_S = 60


class WholeBoard(Production):
    """Web, worker, beat and second trigger of docker-compose.yml beside servers that nobody else uses."""

    def __init__(self, folder: Path, units: int) -> None:
        self.units, self.people = units, {}
        self.fallen: list[tuple[str, int]] = []
        self.database, self.redis = Postgres(), Redis()
        super().__init__("board", folder, DATABASE_URL=self.database.url, REDIS_URL=self.redis.url)

    def prepare(self) -> None:
        words = [sys.executable, "-m", "tests.faults.people", str(self.units), str(RULES)]
        settings = {**self.environment, "DJANGO_SETTINGS_MODULE": "consult.settings"}
        done = subprocess.run(
            words, cwd=PROJECT, env=settings, capture_output=True, text=True, timeout=240, check=False
        )
        if done.returncode:
            raise RuntimeError(done.stderr)
        self.people: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])

    def end(self) -> None:
        super().end()
        self.database.end()
        self.redis.end()

    def strike(self, victim: str, chance: Random, down_s: float) -> tuple[datetime, datetime]:
        """Kill a part or, as often, one of its processes, which its parent replaces; from when to when that was felt.

        Redis is one process alone. It is over once API, database and Redis answer, a worker waits for its next task,
        and the sweep has run since.
        """
        server = {"redis": self.redis, "database": self.database}.get(victim)
        process = server.process if server else self.running[victim]
        began = datetime.now(UTC)
        if victim != "redis" and chance.random() < 0.5:
            with suppress(ProcessLookupError):
                os.kill(one_of(process, chance), signal.SIGKILL)
        else:
            server.kill() if server else self.kill(victim)
            time.sleep(down_s)
            server.start() if server else self.start(victim)
        since = datetime.now(UTC)
        wait_for(lambda: self._started_again() or self.well(since), BACK_WITHIN_S, every=0.1)
        return began, datetime.now(UTC)

    def started(self) -> bool:
        return self.well(datetime.now(UTC) - timedelta(seconds=2))

    def well(self, since: datetime) -> bool:
        """Whether all parts work and the sweep has run since then."""
        return self.redis.worker_listens() and self.ready() and self._swept_at() > since

    def _swept_at(self) -> datetime:
        with suppress(psycopg.Error), psycopg.connect(self.database.url, connect_timeout=1) as database:
            found = database.execute("SELECT at FROM consult_heartbeat WHERE name = 'sweep'").fetchone()
            return found[0] if found else datetime.min.replace(tzinfo=UTC)
        return datetime.min.replace(tzinfo=UTC)

    def _started_again(self) -> None:
        """Start what has ended by itself, as `restart: unless-stopped` does, and keep in mind that it has."""
        for name, code in [(name, each.poll()) for name, each in self.running.items()]:
            if code is not None:
                self.fallen.append((name, code))
                self.kill(name)
                self.start(name)

    def faults(self) -> list[str]:
        """What ended by itself although nobody killed it.

        Not the API's parent, which ends when its processes die twice within seconds; compose starts it again.
        """
        found = [f"{name} ended by itself: {code}" for name, code in self.fallen if (name, code > 0) != ("web", True)]
        crashed = (log for log in self.folder.glob("*.log") if "Fatal Python error" in log.read_text(errors="replace"))
        return [*found, *(f"something ended by a signal of its own: {log}" for log in crashed)]
