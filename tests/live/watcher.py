"""A client of the live board: it keeps what it was told, as a page would."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from typing import Any, Self
from urllib.parse import urlsplit

from asgiref.testing import ApplicationCommunicator
from channels.routing import URLRouter

from consult import clock
from consult.live.hub import Hub
from consult.live.routing import addresses


class Watcher:
    """One socket; `cards` is what its page would show: the hello, then cards and goings in the order they came."""

    def __init__(self, hub: Hub, path: str, headers: dict[str, str], scheme: str = "ws") -> None:
        self.hub = hub
        address = urlsplit(path)
        scope = {
            "type": "websocket",
            "scheme": scheme,
            "server": ("board.example", 443),
            "path": address.path,
            "query_string": address.query.encode(),
            "headers": [(name.lower().encode(), value.encode()) for name, value in headers.items()],
        }
        self.socket = ApplicationCommunicator(URLRouter(addresses(hub)), scope)
        self.hello: dict[str, Any] = {}
        self.cards: dict[str, Any] = {}
        self.seen: list[dict[str, Any]] = []

    @classmethod
    async def on(cls, hub: Hub, path: str, token: str) -> Self:
        """A socket opened with a token."""
        watcher = cls(hub, path, {"Authorization": f"Token {token}"})
        await watcher.connect()
        return watcher

    async def connect(self) -> None:
        """Open the socket; it is always accepted."""
        await self.socket.send_input({"type": "websocket.connect"})
        assert (await self.socket.receive_output(3))["type"] == "websocket.accept"

    async def read(self, within: float = 3.0) -> dict[str, Any]:
        """Read one message; TimeoutError when none comes."""
        frame = await self.socket.receive_output(within)
        assert frame["type"] == "websocket.send", frame
        return self.take(json.loads(frame["text"]))

    async def news(self, within: float = 3.0) -> dict[str, Any]:
        """Read the next message that is no tick: when one falls due is the clock's business."""
        async with asyncio.timeout(within):
            while (message := await self.read(within + 1))["type"] == "tick":
                continue
        return message

    def take(self, message: dict[str, Any]) -> dict[str, Any]:
        """Apply a message as a page does."""
        self.seen.append(message)
        match message["type"]:
            case "hello":
                self.hello, self.cards = message, {card["case"]: card for card in message["cases"]}
            case "card":
                self.cards[message["case"]] = message["card"]
            case "gone":
                self.cards.pop(message["case"], None)
        return message

    async def until(self, reached: Callable[[Self], bool], within: float = 3.0) -> None:
        """Read until the page shows what is waited for; TimeoutError when it does not come to that."""
        async with asyncio.timeout(within):
            while not reached(self):
                await self.read(within + 1)

    async def closed_with(self, within: float = 5.0) -> int:
        """The code with which the server closes, whatever it says before."""
        async with asyncio.timeout(within):
            while (frame := await self.socket.receive_output(within + 1))["type"] != "websocket.close":
                self.take(json.loads(frame["text"]))
        code: int = frame["code"]
        return code

    async def nothing_more(self) -> bool:
        """Whether nothing but ticks comes until two made from now on, and a whole round of healing, are over."""
        start, rounds = clock.now(), {self.hub._healed_at}
        ticks, quiet = 0, True
        while ticks < 2 or len(rounds) < 3:  # the first round to end may have asked before now
            message = await self.read()
            quiet &= message["type"] == "tick"
            ticks += message["type"] == "tick" and clock.when(message["server_time"]) >= start
            rounds.add(self.hub._healed_at)
        return quiet

    async def leave(self) -> None:
        """Close from this side and let the server clear up."""
        await self.socket.send_input({"type": "websocket.disconnect", "code": 1000})
        await self.socket.wait(timeout=3)

    def seqs(self, case: str) -> list[int]:
        """The journal numbers of a case's cards, in the order they came."""
        return [m["seq"] for m in self.seen if m["type"] == "card" and m["case"] == case]
