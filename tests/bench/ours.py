"""The board itself: a database with consults as large as real ones, and its servers as in production."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial

from tests.bench import places
from tests.bench.clients import Target, batch_of, vitals_set


@dataclass(frozen=True)
class Ours:
    """The running board: ports of API and sockets, the physicians' tokens, where each unit posts sets, and batches."""

    api: int
    live: int
    physicians: list[str]
    targets: list[Target]
    batches: list[Target] = field(default_factory=list)


def environment(database: str) -> dict[str, str]:
    """The settings of a server in production, but for TLS."""
    return {
        "DJANGO_SETTINGS_MODULE": "consult.settings",
        "DATABASE_URL": database,
        "REDIS_URL": places.REDIS,
        "SECRET_KEY": "benchmark",
        "ALLOWED_HOSTS": "localhost,127.0.0.1",
    }


def prepare(database: str, units: int) -> dict[str, object]:
    """Migrate, and open a consult for each unit; in a process of its own, since Django is set up once a process."""
    words = [sys.executable, "-m", "tests.bench.consults", str(units)]
    done = subprocess.run(words, env={**os.environ, **environment(database)}, check=True, capture_output=True)
    made: dict[str, object] = json.loads(done.stdout.splitlines()[-1])
    return made


@contextmanager
def board(database: str, made: dict[str, object]) -> Iterator[Ours]:
    """The API on granian with two workers, the sockets on uvicorn."""
    api, live = places.free_port(), places.free_port()
    granian = ["granian", "--interface", "wsgi", "--port", str(api), "--workers", "2", "--blocking-threads", "64"]
    granian += ["--no-ws", "--log-level", "warning", "consult.wsgi:application"]
    uvicorn = [
        "uvicorn",
        "consult.asgi:application",
        "--port",
        str(live),
        "--lifespan",
        "off",
        "--log-level",
        "warning",
    ]
    uvicorn += ["--ws-per-message-deflate", "false"]
    uvicorn += ["--http", "consult.service.connections:Patient", "--ws", "consult.service.connections:Socket"]
    settings = environment(database)
    with (
        places.running(granian, {**settings, "DATABASE_POOL": "8"}, api),
        places.running(uvicorn, settings, live),
    ):
        targets = [
            Target(api, f"/api/v1/cases/{unit['case']}/vitals/", unit["token"], vitals_set) for unit in made["units"]
        ]
        batches = [
            Target(api, "/api/v1/batch/", unit["token"], partial(batch_of, unit["case"])) for unit in made["units"]
        ]
        yield Ours(api, live, made["physicians"], targets, batches)
