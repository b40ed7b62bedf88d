"""The two addresses of the live board: everything that is open, and one case."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable
from contextlib import suppress
from urllib.parse import parse_qs

from channels.generic.websocket import AsyncWebsocketConsumer

from consult import access, clock
from consult.actions import accounts, looks
from consult.live.auth import Pass, admit
from consult.live.hub import Hub
from consult.live.news import News
from consult.live.outbox import Outbox
from consult.live.picture import in_thread
from consult.live.seat import NO_PERMISSION, NOT_SIGNED_IN, TOO_BIG, TRY_AGAIN, Room, Seat
from consult.problems import Forbidden, NotFound, NotSignedIn

log = logging.getLogger(__name__)
INCOMING_MOST = 1024


class LiveConsumer(AsyncWebsocketConsumer):
    """A socket's life: accepted, admitted, seated, shown the picture, told the news, ended."""

    seat: Seat | None = None
    writer: asyncio.Task[None] | None = None
    closing: asyncio.Task[None] | None = None

    def __init__(self, hub: Hub) -> None:
        super().__init__()
        self.hub = hub

    def room(self, pass_: Pass) -> Room:
        """What this actor may watch at this address; raises Forbidden or NotFound. Runs in a thread."""
        raise NotImplementedError

    async def picture(self, pass_: Pass, *, html: bool) -> list[News]:
        """What is open there now."""
        raise NotImplementedError

    async def __call__(self, scope: object, receive: object, send: object) -> None:
        """Serve the socket until it ends."""
        try:
            await super().__call__(scope, receive, send)
        finally:  # here, since after a handler has raised `disconnect` is never called
            self._leave()

    async def connect(self) -> None:
        """Accept first, since only an open socket can say by its code why it is closed."""
        await self.accept()
        try:
            pass_, room = await in_thread(self._admit)
            await self._watch(pass_, room)
        except NotSignedIn:
            await self.close(NOT_SIGNED_IN)
        except (Forbidden, NotFound):
            await self.close(NO_PERMISSION)
        except Exception as error:  # a database that is away: the client comes again
            log.warning("live: a socket could not be served (%s)", type(error).__name__)
            self.end(TRY_AGAIN)

    async def receive(self, text_data: str | None = None, bytes_data: bytes | None = None) -> None:
        """Ignore what clients send; who sends much is closed."""
        if len(text_data or bytes_data or "") > INCOMING_MOST:
            self.end(TOO_BIG)

    def say(self, text: str) -> Awaitable[None]:
        """Send a text."""
        sent: Awaitable[None] = self.base_send({"type": "websocket.send", "text": text})
        return sent

    def end(self, code: int) -> None:
        """Leave the hub and close with a code, without waiting for a client that may not read."""
        if self.closing is None:
            self._leave()
            self.closing = asyncio.create_task(self._close(code))

    def _admit(self) -> tuple[Pass, Room]:
        now = clock.now()
        pass_ = admit(self.scope, now)
        room = self.room(pass_)
        if pass_.actor.unit:
            accounts.note_contact(pass_.actor.unit, now)
        return pass_, room

    async def _watch(self, pass_: Pass, room: Room) -> None:
        """Note [Join before the picture]."""
        if self.hub.is_full_for(pass_):
            self.end(TRY_AGAIN)
            return
        html = parse_qs(self.scope["query_string"]).get(b"html") == [b"1"]
        outbox = Outbox(self.say, html=html)
        self.seat = Seat(room, pass_, outbox, self.end)
        self.hub.join(self.seat)
        picture = await self.picture(pass_, html=html)
        if self.closing is None:
            self.hub.holds(picture)
            outbox.open_with(picture, clock.now())
            self.writer = asyncio.create_task(self._write(outbox))

    async def _write(self, outbox: Outbox) -> None:
        try:
            await outbox.run()
        except OSError:  # the client has gone; the disconnect is on its way
            self._leave()

    def _leave(self) -> None:
        if self.seat:
            self.hub.leave(self.seat)
        if self.writer and self.writer is not asyncio.current_task():
            self.writer.cancel()

    async def _close(self, code: int) -> None:
        with suppress(OSError):
            await self.close(code)


class BoardConsumer(LiveConsumer):
    """`/ws/board/`: all open cases of the agency, for everybody but crews."""

    def room(self, pass_: Pass) -> Room:
        """The agency's board; Forbidden for crews."""
        access.require_watcher(pass_.actor)
        return "board", pass_.actor.agency

    async def picture(self, pass_: Pass, *, html: bool) -> list[News]:
        """All open cases of the agency."""
        return await self.hub.picture.of_agency(pass_.actor.agency, html=html)


class CaseConsumer(LiveConsumer):
    """`/ws/cases/{id}/`: one case, also for its crew."""

    case: int

    def room(self, pass_: Pass) -> Room:
        """The case; NotFound for those who may not see it."""
        case = access.case_for(pass_.actor, self.scope["url_route"]["kwargs"]["case"])
        looks.note_look(pass_.actor, case, "live card", clock.now())
        self.case = case.pk
        return "case", self.case

    async def picture(self, pass_: Pass, *, html: bool) -> list[News]:
        """The case, while it is open."""
        return await self.hub.picture.of_case(self.case, html=html)


class Nowhere(AsyncWebsocketConsumer):
    """Every other address: the handshake is refused."""

    async def connect(self) -> None:
        """Refuse."""
        await self.close()
