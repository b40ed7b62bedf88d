"""A request's body is whole before anything is done with it; too large and too slow ones are refused.

Minutes of a slow uplink pass at once: see `leaping`.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterable
from typing import Any

import pytest

from consult.service import bodies
from consult.service.bodies import Bodies
from tests.processes.leaping import Leaping

CHUNKED = (b"transfer-encoding", b"chunked")
Part = tuple[float, bytes]  # after so many seconds, these bytes


class Client:
    """One client: what it says of its body, when it sends which part, and what it was answered."""

    starts = 0.0

    def __init__(self, parts: Iterable[Part], stated: int | None = None, path: str = "/api/v1/cases/", who: str = "a"):
        length = CHUNKED if stated is None else (b"content-length", str(stated).encode())
        self.scope = {"type": "http", "path": path, "method": "POST", "headers": [length], "client": (who, 1)}
        self.parts, self.sent, self.read = list(parts), [], 0

    async def receive(self) -> dict[str, Any]:
        if not self.parts:
            await asyncio.sleep(3600)
        seconds, part = self.parts.pop(0)
        await asyncio.sleep(seconds)
        self.read += len(part)
        return {"type": "http.request", "body": part, "more_body": bool(self.parts)}

    async def send(self, message: dict[str, Any]) -> None:
        self.sent.append(message)

    @property
    def status(self) -> int:
        return next((message["status"] for message in self.sent if "status" in message), 0)

    @property
    def headers(self) -> dict[str, str]:
        return {name.decode(): value.decode() for name, value in self.sent[0]["headers"]}

    @property
    def body(self) -> bytes:
        return b"".join(message.get("body", b"") for message in self.sent)


async def django(scope: Any, receive: Any, send: Any) -> None:
    """Stands for what is behind: answers with how much it was given, in one message."""
    message = await receive()
    assert message["more_body"] is False
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": str(len(message["body"])).encode()})


def served(*clients: Client, application: Any = None) -> None:
    """Serve these clients at once, in a loop whose time leaps."""

    async def all_of_them() -> None:
        behind, passed = application or Bodies(django), 0.0
        async with asyncio.TaskGroup() as group:
            for client in sorted(clients, key=lambda each: each.starts):
                if client.starts:
                    await asyncio.sleep(client.starts - passed)
                    passed = client.starts
                group.create_task(behind(client.scope, client.receive, client.send))

    with asyncio.Runner(loop_factory=Leaping) as runner:
        runner.run(all_of_them())


def at(rate: int, size: int) -> list[Part]:
    """A body of so many bytes, some each second."""
    return [(1.0, b"x" * min(rate, size - start)) for start in range(0, size, rate)]


# A poor uplink of a vehicle is 2 KB/s: 64 KB, more than a day of entries, take half a minute.
@pytest.mark.parametrize(
    ("rate", "size", "status"),
    [
        pytest.param(2048, 64 * 1024, 200, id="64 KB at 2 KB/s"),
        pytest.param(2048, 256 * 1024, 200, id="the largest body at 2 KB/s"),
        pytest.param(1100, 64 * 1024, 200, id="64 KB at 1.1 KB/s"),
        pytest.param(400, 3000, 200, id="a set of vitals at 400 bytes a second"),
        pytest.param(500, 64 * 1024, 408, id="64 KB at 500 bytes a second"),
        pytest.param(1, 200, 408, id="a byte each second"),
    ],
)
def test_a_slow_uplink_is_served_and_a_slower_one_is_not_waited_for(rate: int, size: int, status: int):
    client = Client(at(rate, size), size)
    served(client)
    assert client.status == status
    assert client.body == str(size).encode() if status == 200 else b"too slowly" in client.body


def test_a_body_that_never_comes_is_not_waited_for():
    client = Client([], 200)
    served(client)
    assert client.status == 408


@pytest.mark.parametrize("stated", [True, False], ids=["stated", "in chunks"])
@pytest.mark.parametrize(
    ("path", "size", "status"),
    [
        ("/api/v1/cases/", 256 * 1024, 200),
        ("/api/v1/cases/", 256 * 1024 + 1, 413),
        ("/sign-in/", 256 * 1024 + 1, 413),
        ("/rules/adopt/", 1_000_000, 200),
        ("/rules/adopt/", 1_200_000, 413),
        ("/nowhere/", 10_000_000, 413),
    ],
)
def test_a_body_is_taken_up_to_its_pages_most(path: str, size: int, status: int, stated: bool):
    client = Client([(0, b"x" * 65536) for _ in range(size // 65536)] + [(0, b"x" * (size % 65536))], path=path)
    if stated:
        client.scope["headers"] = [(b"content-length", str(size).encode())]
    served(client)
    assert client.status == status


def test_a_length_beyond_the_most_is_refused_before_a_byte_is_read():
    client = Client([(60, b"x")], 10**15)
    served(client)
    assert (client.status, client.read) == (413, 0)


@pytest.mark.parametrize(("path", "kind"), [("/api/v1/x/", "application/problem+json"), ("/sign-in/", "text/html")])
def test_a_refusal_is_a_problem_or_a_page_with_the_browsers_walls_and_ends_the_connection(path: str, kind: str):
    client = Client([], 10**7, path)
    served(client)
    assert client.headers["content-type"].startswith(kind)
    assert client.headers["connection"] == "close"
    assert client.headers["x-content-type-options"] == "nosniff"
    assert client.headers["cache-control"] == "no-store"
    assert "default-src 'none'" in client.headers["content-security-policy"]
    if "json" in kind:
        assert json.loads(client.body)["status"] == 413
    assert int(client.headers["content-length"]) == len(client.body)


def test_of_too_many_slow_bodies_the_slowest_of_the_most_crowded_address_goes(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(bodies, "MOST_AT_ONCE", 10)
    slow = [Client(at(1, 200), 200, who="crowded") for _ in range(30)]
    crew = Client(at(2048, 64 * 1024), 64 * 1024, who="vehicle")
    neighbor = Client(at(2048, 8 * 1024), 8 * 1024, who="crowded")
    crew.starts, neighbor.starts = 2, 3
    for client in slow[10:]:
        client.starts = 5
    served(*slow, neighbor, crew)
    assert (crew.status, neighbor.status) == (200, 200)
    assert {client.status for client in slow} == {408, 503}
    assert {client.headers.get("retry-after") for client in slow if client.status == 503} == {"1"}


def test_a_request_without_a_body_is_handed_on_as_it_is():
    client = Client([(0, b"")], 0)
    served(client)
    assert client.body == b"0"


def test_a_client_that_goes_away_is_not_answered():
    client = Client([], 100)

    async def gone() -> dict[str, Any]:
        return {"type": "http.disconnect"}

    client.receive = gone  # type: ignore[method-assign]
    served(client)
    assert client.sent == []


def test_what_comes_after_the_body_comes_through():
    """Django asks whether the client is still there while a view works."""
    after = []

    async def asks(scope: Any, receive: Any, send: Any) -> None:
        after.extend([await receive(), await receive()])

    client = Client([(0, b"abc"), (0, b"def"), (5, b"")], 6)
    client.parts[1:] = [(0, b"def")]
    original = client.receive

    async def then_gone() -> dict[str, Any]:
        return await original() if client.parts else {"type": "http.disconnect"}

    client.receive = then_gone  # type: ignore[method-assign]
    served(client, application=Bodies(asks))
    assert after == [{"type": "http.request", "body": b"abcdef", "more_body": False}, {"type": "http.disconnect"}]
