"""Closed-loop HTTP clients: each sends its next request when the last is answered. Run in a process of their own.

Plain sockets with prepared bytes, so that the clients take little of the two cores that are measured.
"""

from __future__ import annotations

import asyncio
import json
import multiprocessing
import time
import uuid
from collections.abc import Callable, Coroutine
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime

BATCH = 200  # entries: as many as one may hold
Body = Callable[[], dict[str, object]]


@dataclass(frozen=True)
class Target:
    """Where one client posts, as whom, and what."""

    port: int
    path: str
    token: str
    body: Body

    def request(self) -> bytes:
        """The next request, whole."""
        content = json.dumps(self.body()).encode()
        head = (
            f"POST {self.path} HTTP/1.1\r\nHost: localhost\r\nAuthorization: Token {self.token}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(content)}\r\n\r\n"
        )
        return head.encode() + content


def vitals_set() -> dict[str, object]:
    """A set of vitals as a unit sends it, taken now."""
    at = datetime.now(UTC).isoformat()
    return {"id": str(uuid.uuid4()), "taken_at": at, "sbp": 96, "dbp": 52, "hr": 118, "rr": 22, "spo2": 94, "etco2": 31}


def batch_of(case: str) -> dict[str, object]:
    """Sets of vitals of one case, as a unit sends them that had no link."""
    entries = [{"kind": "vitals", "case": case, **vitals_set()} for _ in range(BATCH)]
    return {"sent_at": datetime.now(UTC).isoformat(), "entries": entries}


class Connection:
    """One kept connection."""

    def __init__(self, target: Target) -> None:
        self.target = target

    async def open(self) -> None:
        """Connect."""
        self.reader, self.writer = await asyncio.open_connection("127.0.0.1", self.target.port)

    async def post(self, request: bytes) -> bytes:
        """Send a request, and the answer's body; raises RuntimeError for anything but 200 and 201."""
        self.writer.write(request)
        head = await self.reader.readuntil(b"\r\n\r\n")
        length = next(int(line[15:]) for line in head.lower().split(b"\r\n") if line.startswith(b"content-length:"))
        body = await self.reader.readexactly(length)
        if head[9:12] not in (b"200", b"201"):
            raise RuntimeError(f"{head[:15]!r} {body[:300]!r}")
        return body


async def _loop(target: Target, until: float, delays: list[float]) -> None:
    connection = Connection(target)
    await connection.open()
    while (start := time.perf_counter()) < until:
        await connection.post(target.request())
        delays.append(time.perf_counter() - start)


async def _all(targets: list[Target], seconds: float) -> list[float]:
    delays: list[float] = []
    until = time.perf_counter() + seconds
    await asyncio.gather(*(_loop(target, until, delays) for target in targets))
    return delays


def post_for(targets: list[Target], seconds: float) -> list[float]:
    """The delays in seconds of all posts that these clients could make in this time."""
    return apart(_all, targets, seconds)


def apart(work: Callable[..., Coroutine[object, object, list[float]]], *arguments: object) -> list[float]:
    """What a coroutine answers when it runs in a process of its own; raises what it raised."""
    with ProcessPoolExecutor(1, multiprocessing.get_context("fork")) as pool:
        return pool.submit(_run, work, arguments).result()


def _run(work: Callable[..., Coroutine[object, object, list[float]]], arguments: tuple[object, ...]) -> list[float]:
    return asyncio.run(work(*arguments))
