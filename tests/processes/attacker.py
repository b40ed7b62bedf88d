"""One client that holds on to connections: many at once, each idle, slow, or a socket; bounded, on loopback alone."""

from __future__ import annotations

import asyncio
import resource
import threading
from collections.abc import Callable, Coroutine
from contextlib import suppress
from types import TracebackType
from typing import Any, Self

HERE = "127.0.0.1"
DRIP_S = 0.5
FILES = 6000

Hold = Callable[[asyncio.StreamReader, asyncio.StreamWriter], Coroutine[Any, Any, None]]


async def idle(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    """Ask for nothing."""
    await reader.read()


def slow_post(path: str, token: str = "", size: int = 5000) -> Hold:
    """A post whose body comes byte by byte."""
    head = f"POST {path} HTTP/1.1\r\nHost: {HERE}\r\nContent-Length: {size}\r\nContent-Type: application/json\r\n"
    head += f"Authorization: Token {token}\r\n" if token else ""

    async def hold(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(f"{head}\r\n".encode())
        while not reader.at_eof():
            writer.write(b" ")
            await writer.drain()
            await asyncio.sleep(DRIP_S)

    return hold


def slow_head(path: str) -> Hold:
    """A request whose head comes byte by byte."""

    async def hold(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(f"GET {path} HTTP/1.1\r\nHost: {HERE}\r\nX-Slow: ".encode())
        while not reader.at_eof():
            writer.write(b"x")
            await writer.drain()
            await asyncio.sleep(DRIP_S)

    return hold


def socket(path: str, token: str = "") -> Hold:
    """A websocket that is never let go."""
    head = f"GET {path} HTTP/1.1\r\nHost: {HERE}\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n"
    head += "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n"
    head += f"Authorization: Token {token}\r\n" if token else ""

    async def hold(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(f"{head}\r\n".encode())
        await reader.read()

    return hold


class Attack:
    """`count` connections to a port of this machine, held until the block is left; each that ends is opened anew."""

    def __init__(self, port: int, count: int, hold: Hold) -> None:
        self.port, self.count, self.hold = port, count, hold
        self.opened, self.all_open, self.ended = 0, threading.Event(), threading.Event()
        self.thread = threading.Thread(target=lambda: asyncio.run(self._all()))

    def __enter__(self) -> Self:
        _, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        resource.setrlimit(resource.RLIMIT_NOFILE, (min(FILES, hard), hard))
        self.thread.start()
        if not self.all_open.wait(30):
            self._let_go()
            raise AssertionError(f"only {self.opened} of {self.count} connections were opened")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._let_go()

    def _let_go(self) -> None:
        self.ended.set()
        self.thread.join()

    async def _all(self) -> None:
        tasks = [asyncio.create_task(self._one()) for _ in range(self.count)]
        await asyncio.to_thread(self.ended.wait)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    async def _one(self) -> None:
        while True:
            with suppress(OSError):
                await self._hold_one()
            await asyncio.sleep(DRIP_S)

    async def _hold_one(self) -> None:
        reader, writer = await asyncio.open_connection(HERE, self.port)
        self.opened += 1
        if self.opened >= self.count:
            self.all_open.set()
        try:
            await self.hold(reader, writer)
        finally:
            writer.close()
