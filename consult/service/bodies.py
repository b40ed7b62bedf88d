"""Requests reach Django with their whole body, or not at all: too large and too slow ones are refused before that.

Nothing is spooled, and no thread or database connection waits for a client. A slow uplink is served as long as it is
faster than `LEAST_RATE`; when too many bodies are on their way, the slowest of the most crowded address goes.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, MutableMapping
from contextlib import suppress
from http import HTTPStatus
from typing import Any

from django.conf import settings

from consult.middleware import refusal
from consult.service.crowd import Crowd

Message = MutableMapping[str, Any]
Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

GRACE_S = 10.0
LEAST_RATE = 1024  # bytes a second; a poor uplink from a vehicle has twice that
MOST_AT_ONCE = 100
LINGER_S = 2.0
# Files come to one page alone; forms around them take a little more.
LARGER = {"/rules/adopt/": settings.DATA_UPLOAD_MAX_MEMORY_SIZE}


class Refused(Exception):
    """The body is not waited for; the status and the words that say why."""

    def __init__(self, status: HTTPStatus, detail: str) -> None:
        super().__init__(detail)
        self.status, self.detail = status, detail


class Gone(Exception):
    """The client has gone before its body was whole."""


class Upload:
    """One body on its way."""

    def __init__(self, place: str, most: int) -> None:
        self.place, self.most = place, most
        self.began = asyncio.get_running_loop().time()
        self.parts: list[bytes] = []
        self.size = 0
        self.is_crowded_out = False
        self.timeout: asyncio.Timeout | None = None

    def take(self, part: bytes) -> None:
        """Add a part; raises Refused where the body is too large, or not waited for any more."""
        self.size += len(part)
        if self.size > self.most:
            raise too_large(self.most)
        if self.is_crowded_out:
            raise self.too_late
        self.parts.append(part)

    @property
    def may_wait_until(self) -> float:
        """When the next part must be there, in the loop's time."""
        return self.began + GRACE_S + self.size / LEAST_RATE

    @property
    def rate(self) -> float:
        """Bytes a second since it began."""
        return self.size / max(asyncio.get_running_loop().time() - self.began, 1.0)

    @property
    def too_late(self) -> Refused:
        """Why it was not waited for."""
        if self.is_crowded_out:
            return Refused(HTTPStatus.SERVICE_UNAVAILABLE, "Too many slow requests at once. Send it again.")
        return Refused(HTTPStatus.REQUEST_TIMEOUT, "The body came too slowly.")

    def crowd_out(self) -> None:
        """Wait no more for this one."""
        self.is_crowded_out = True
        if self.timeout:
            self.timeout.reschedule(0)


class Bodies:
    """The ASGI application behind, called once a request's body is whole."""

    def __init__(self, application: Application) -> None:
        self.application = application
        self.uploads: Crowd[Upload] = Crowd(MOST_AT_ONCE, worth=lambda upload: upload.rate)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request or a socket."""
        if scope["type"] != "http":
            await self.application(scope, receive, send)
            return
        try:
            if stated := _stated(scope):
                receive = _again(await self._body(scope, stated, receive), receive)
        except Refused as refused:
            await _refuse(scope, receive, send, refused)
        except Gone:
            return
        else:
            await self.application(scope, receive, send)

    async def _body(self, scope: Scope, stated: bytes, receive: Receive) -> bytes:
        """The whole body; raises Refused or Gone."""
        upload = Upload((scope.get("client") or ("",))[0], most_bytes(scope["path"]))
        if stated.isdigit() and int(stated) > upload.most:
            raise too_large(upload.most)
        if going := self.uploads.join(upload, upload.place):
            going.crowd_out()
        try:
            async with asyncio.timeout_at(upload.may_wait_until) as upload.timeout:
                while await _took_part(upload, receive):
                    upload.timeout.reschedule(upload.may_wait_until)
        except TimeoutError:
            raise upload.too_late from None
        finally:
            self.uploads.leave(upload, upload.place)
        return b"".join(upload.parts)


def most_bytes(path: str) -> int:
    """How large a body may be at this path."""
    return LARGER.get(path, settings.MOST_BODY)


def too_large(most: int) -> Refused:
    """The refusal of a body of more than so many bytes."""
    return Refused(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"The body is larger than {most // 1024} KiB.")


def _stated(scope: Scope) -> bytes:
    """What the head says of the body: its length, or that it comes in chunks; nothing where there is none."""
    said = b""
    for name, value in scope["headers"]:
        if name == b"transfer-encoding" or (name == b"content-length" and value != b"0"):
            said = value
    return said


async def _took_part(upload: Upload, receive: Receive) -> bool:
    """Take the next part; whether there is more to come."""
    message = await receive()
    if message["type"] != "http.request":
        raise Gone
    upload.take(message.get("body", b""))
    return bool(message.get("more_body"))


def _again(body: bytes, receive: Receive) -> Receive:
    """Receive the body once more, as one message, then what comes after it."""
    left = [{"type": "http.request", "body": body, "more_body": False}]

    async def received() -> Message:
        return left.pop() if left else await receive()

    return received


async def _refuse(scope: Scope, receive: Receive, send: Send, refused: Refused) -> None:
    """Say why, then read on for a moment: a client that still sends would lose the answer if it were cut off."""
    answer = refusal(scope["path"], refused.status, refused.detail)
    if refused.status == HTTPStatus.SERVICE_UNAVAILABLE:
        answer["Retry-After"] = "1"
    headers = [(name.lower().encode(), value.encode()) for name, value in answer.items()]
    headers += [(b"content-length", str(len(answer.content)).encode()), (b"connection", b"close")]
    await send({"type": "http.response.start", "status": answer.status_code, "headers": headers})
    await send({"type": "http.response.body", "body": answer.content, "more_body": True})
    with suppress(TimeoutError):
        async with asyncio.timeout(LINGER_S):
            while (message := await receive())["type"] == "http.request" and message.get("more_body"):
                pass
    await send({"type": "http.response.body", "body": b"", "more_body": False})
