"""Style sheets, scripts and images that were sent once go out again without Django: a page asks for thirty of them."""

from __future__ import annotations

from http import HTTPStatus

from django.conf import settings

from consult.service.bodies import Application, Message, Receive, Scope, Send

BODY = "http.response.body"


class KeptFiles:
    """The ASGI application behind, but a file that it has sent once goes out without it."""

    def __init__(self, application: Application) -> None:
        self.application = application
        self.kept: dict[str, list[Message]] = {}  # by path; a path that leads to no file is not kept

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request or a socket."""
        if scope.get("method") != "GET" or not scope["path"].startswith(settings.STATIC_URL) or settings.DEBUG:
            await self.application(scope, receive, send)
        elif scope["path"] in self.kept:
            await self._again(scope, receive, send)
        else:
            await self._first(scope, receive, send)

    async def _again(self, scope: Scope, receive: Receive, send: Send) -> None:
        asks, (start, *body) = dict(scope["headers"]), self.kept[scope["path"]]
        known = asks.get(b"if-none-match")
        if b"range" in asks or (known is None and b"if-modified-since" in asks):
            await self.application(scope, receive, send)
            return
        if known == dict(start["headers"])[b"ETag"]:
            told = [each for each in start["headers"] if each[0] not in (b"Content-Length", b"Content-Type")]
            start, body = {**start, "status": HTTPStatus.NOT_MODIFIED, "headers": told}, [{"type": BODY}]
        for message in (start, *body):
            await send(message)

    async def _first(self, scope: Scope, receive: Receive, send: Send) -> None:
        sent: list[Message] = []

        async def kept(message: Message) -> None:
            sent.append(message)
            await send(message)

        await self.application(scope, receive, kept)
        if sent[:1] and sent[0]["status"] == HTTPStatus.OK and not sent[-1].get("more_body"):
            self.kept[scope["path"]] = sent
