"""uvicorn's connections with an end to all waiting: for a request's head, for the next one, for a client that reads.

Named on uvicorn's command line by `serve` and the compose file. A connection whose request is under way is none of
this module's business: its body has `consult.service.bodies`.
"""

from __future__ import annotations

import asyncio
from functools import lru_cache
from typing import Any

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol
from websockets.frames import Frame, Opcode
from websockets.protocol import State

from consult.service.crowd import Crowd

HEAD_S = 10.0  # a request's head is a few hundred bytes
READS_S = 30.0  # how long a full buffer may wait for its client
CLOSES_S = 2.0  # how long a socket that was told to close may stay
MOST_WAITING = 200


class Patient(HttpToolsProtocol):
    """A connection that is closed when it asks for nothing, too slowly, or when too many like it wait.

    It waits from the start to the end of a request's head, and between requests. Of too many the one goes that has
    waited longest at the most crowded address.
    """

    since: float
    waiting: Crowd[Patient] = Crowd(MOST_WAITING, worth=lambda connection: connection.since)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.since = 0.0
        self.head_timer: asyncio.TimerHandle | None = None
        self.reads_timer: asyncio.TimerHandle | None = None

    @property
    def place(self) -> str:
        """The address at the other end."""
        return self.client[0] if self.client else ""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._wait()
        self._expect_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no more."""
        super().connection_lost(exc)
        self._wait_no_more()
        self._stop_reads_timer()

    def data_received(self, data: bytes) -> None:
        """Read on; what belongs to no whole head yet has its time counted."""
        if self.since and not self.head_timer:
            self._expect_head()
        super().data_received(data)

    def on_headers_complete(self) -> None:
        """A request is under way."""
        self._wait_no_more()
        super().on_headers_complete()

    def on_response_complete(self) -> None:
        """Wait for the next request, if there may be one."""
        super().on_response_complete()
        if self.timeout_keep_alive_task is not None:
            self._wait()

    def pause_writing(self) -> None:
        """The client reads too slowly; it has some time to catch up."""
        super().pause_writing()
        self._stop_reads_timer()
        self.reads_timer = self.loop.call_later(READS_S, self.transport.abort)

    def resume_writing(self) -> None:
        """It has caught up."""
        super().resume_writing()
        self._stop_reads_timer()

    def _wait(self) -> None:
        self.since = self.loop.time()
        if going := self.waiting.join(self, self.place):
            going.transport.abort()

    def _wait_no_more(self) -> None:
        self.since = 0.0
        self.waiting.leave(self, self.place)
        if self.head_timer:
            self.head_timer.cancel()
            self.head_timer = None

    def _expect_head(self) -> None:
        self.head_timer = self.loop.call_later(HEAD_S, self.transport.abort)

    def _stop_reads_timer(self) -> None:
        if self.reads_timer:
            self.reads_timer.cancel()
            self.reads_timer = None


class Socket(WebSocketsSansIOProtocol):
    """A websocket that does not wait long for the other side's goodbye, and takes a frame that was made for many."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.close_timeout = CLOSES_S

    async def send(self, message: Any) -> None:
        """Send; the same text to a hundred sockets is encoded once, where nothing about this one asks for more."""
        text = message.get("text")
        is_open = self.conn.state is State.OPEN and not self.disconnected
        if text is None or not is_open or not self.writable.is_set() or self.conn.extensions:
            await super().send(message)
        else:
            self.transport.write(_frame(text))


@lru_cache(maxsize=16)
def _frame(text: str) -> bytes:
    """A text as a server sends it."""
    return Frame(Opcode.TEXT, text.encode()).serialize(mask=False)
