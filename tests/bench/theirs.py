"""What the board is held against, running: the tutorial project, and a program that does the least that could do."""

from __future__ import annotations

import os
import subprocess
import sys
import uuid
from collections.abc import Iterator
from contextlib import contextmanager

from tests.bench import places
from tests.bench.clients import Target, vitals_set
from tests.bench.ours import Ours

MODULE = "tests.bench.tutorial"


@contextmanager
def tutorial(database: str, clients: int) -> Iterator[list[Target]]:
    """Where the clients post, while the tutorial project runs on uvicorn."""
    settings = {"TUTORIAL_DATABASE": database, "DJANGO_SETTINGS_MODULE": f"{MODULE}.settings"}
    words = [sys.executable, "-m", f"{MODULE}.prepare"]
    token = subprocess.run(words, env={**os.environ, **settings}, check=True, capture_output=True, text=True).stdout
    port = places.free_port()
    uvicorn = [
        "uvicorn",
        f"{MODULE}.asgi:application",
        "--port",
        str(port),
        "--log-level",
        "critical",
        "--lifespan",
        "off",
    ]
    with places.running(uvicorn, settings, port):
        yield [Target(port, "/readings/", token.strip(), vitals_set) for _ in range(clients)]


@contextmanager
def bare(database: str, clients: int) -> Iterator[Ours]:
    """Where the clients post and boards listen, while the bare program runs on uvicorn."""
    port = places.free_port()
    uvicorn = ["uvicorn", "tests.bench.bare:application", "--port", str(port), "--log-level", "critical"]
    uvicorn += ["--ws", "websockets-sansio", "--ws-per-message-deflate", "false"]
    with places.running(uvicorn, {"BARE_DATABASE": database, "REDIS_URL": places.REDIS}, port):
        targets = [Target(port, f"/{uuid.uuid4()}", "", vitals_set) for _ in range(clients)]
        yield Ours(port, port, [""], targets)
