"""No connection is waited for without end: not for a request's head, not for the next request, not for its reader."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

import pytest
from uvicorn import Config
from uvicorn.server import ServerState

from consult.service.connections import CLOSES_S, HEAD_S, READS_S, Patient, Socket
from consult.service.crowd import Crowd
from tests.processes.leaping import Leaping

REQUEST = b"GET /healthz HTTP/1.1\r\nHost: board.example\r\n\r\n"
KEEP_ALIVE_S = 75


class Line(asyncio.Transport):
    """Stands for a connection from an address: what was written to it, and when it was closed."""

    def __init__(self, address: str = "192.0.2.1") -> None:
        super().__init__({"peername": (address, 1)})
        self.written, self.closed_at = b"", None

    def write(self, data: Any) -> None:
        self.written += bytes(data)

    def is_closing(self) -> bool:
        return self.closed_at is not None

    def close(self) -> None:
        self.closed_at = asyncio.get_running_loop().time()

    abort = close

    def pause_reading(self) -> None: ...

    def resume_reading(self) -> None: ...


async def answers(scope: Any, receive: Any, send: Any) -> None:
    """Stands for what is behind; /slow/ takes its time."""
    if scope["path"] == "/slow/":
        await asyncio.sleep(60)
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
    await send({"type": "http.response.body", "body": b"ok"})


def connected(line: Line, most: int = 200) -> Patient:
    config = Config(answers, http=Patient, timeout_keep_alive=KEEP_ALIVE_S, lifespan="off")
    connection = Patient(config, ServerState(), {})
    connection.connection_made(line)
    return connection


def ended_after(play: Callable[[Patient, Line], Any], seconds: float = 300) -> float | None:
    """How long after it was opened a connection was closed on which this was played; None: not within the time."""

    async def run() -> float | None:
        began, line = asyncio.get_running_loop().time(), Line()
        await play(connected(line), line)
        await asyncio.sleep(seconds)
        return line.closed_at and line.closed_at - began

    with asyncio.Runner(loop_factory=Leaping) as runner:
        return runner.run(run())


async def nothing(connection: Patient, line: Line) -> None:
    """Ask for nothing."""


async def a_head_byte_by_byte(connection: Patient, line: Line) -> None:
    for byte in REQUEST[:-2]:
        if not line.is_closing():
            connection.data_received(bytes([byte]))
        await asyncio.sleep(1)


async def one_request(connection: Patient, line: Line) -> None:
    connection.data_received(REQUEST)
    await asyncio.sleep(1)
    assert line.written.endswith(b"ok")


async def one_request_and_half_of_another(connection: Patient, line: Line) -> None:
    await one_request(connection, line)
    connection.data_received(REQUEST[:20])


async def a_request_that_takes_a_minute(connection: Patient, line: Line) -> None:
    connection.data_received(REQUEST.replace(b"/healthz", b"/slow/"))
    await asyncio.sleep(61)
    assert line.written.endswith(b"ok")


async def an_answer_that_is_not_read(connection: Patient, line: Line) -> None:
    await one_request(connection, line)
    connection.pause_writing()


async def an_answer_that_is_read_late(connection: Patient, line: Line) -> None:
    connection.data_received(REQUEST)
    connection.pause_writing()
    await asyncio.sleep(READS_S - 5)
    connection.resume_writing()


@pytest.mark.parametrize(
    ("play", "seconds"),
    [
        (nothing, HEAD_S),
        (a_head_byte_by_byte, HEAD_S),
        (one_request, KEEP_ALIVE_S),
        (one_request_and_half_of_another, 1 + HEAD_S),
        (a_request_that_takes_a_minute, 60 + KEEP_ALIVE_S),
        (an_answer_that_is_not_read, 1 + READS_S),
        (an_answer_that_is_read_late, READS_S - 5 + KEEP_ALIVE_S),
    ],
    ids=lambda value: value.__name__ if callable(value) else "",
)
def test_a_connection_is_waited_for_so_long(play: Any, seconds: float) -> None:
    assert ended_after(play) == pytest.approx(seconds, abs=0.5)


def test_of_too_many_that_wait_the_oldest_of_the_most_crowded_address_goes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Patient, "waiting", Crowd(3, worth=lambda connection: connection.since))

    async def run() -> list[bool]:
        crew, lines = Line("203.0.113.9"), [Line() for _ in range(4)]
        for line in (crew, *lines):
            connected(line)
            await asyncio.sleep(0.1)
        return [line.is_closing() for line in (crew, *lines)]

    with asyncio.Runner(loop_factory=Leaping) as runner:
        assert runner.run(run()) == [False, True, True, False, False]


def test_a_socket_that_was_told_to_close_is_not_waited_for_long() -> None:
    async def run() -> float:
        return Socket(Config(answers, lifespan="off"), ServerState(), {}).close_timeout

    with asyncio.Runner() as runner:
        assert runner.run(run()) == CLOSES_S
