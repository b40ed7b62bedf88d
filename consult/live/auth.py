"""Who opens a socket, found from its handshake, and whether they may still have it open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from importlib import import_module
from io import BytesIO

from django.conf import settings
from django.contrib.auth import get_user
from django.core.exceptions import DisallowedHost
from django.core.handlers.asgi import ASGIRequest
from django.http import HttpRequest

from consult import access
from consult.access import Actor
from consult.problems import Forbidden, NotSignedIn

SCHEMES = {"ws": "http", "wss": "https"}


@dataclass(frozen=True, slots=True)
class Pass:
    """The actor at the handshake and what proved it: a token or a session's key, kept in memory alone."""

    actor: Actor
    token: str | None = field(default=None, repr=False)
    session: str | None = field(default=None, repr=False)

    def holds(self, now: datetime) -> bool:
        """Whether the token or session still stands for the same membership, role and unit."""
        try:
            actor = access.actor_for_token(self.token, now) if self.token else _actor_of_session(self.session, now)
        except NotSignedIn:
            return False
        return _place(actor) == _place(self.actor)


def admit(scope: Mapping[str, object], now: datetime) -> Pass:
    """Who this handshake is from; raises NotSignedIn, or Forbidden where a browser's page is not one of ours."""
    request = _request(scope)
    if header := request.headers.get("Authorization"):
        word, _, token = header.partition(" ")
        if word.lower() != "token" or not token.strip():
            raise NotSignedIn
        return Pass(access.actor_for_token(token.strip(), now), token=token.strip())
    key = request.COOKIES.get(settings.SESSION_COOKIE_NAME)
    if not key:
        raise NotSignedIn
    # A browser sends the cookie from any page; only its Origin tells that the page is ours.
    if not _from_our_page(request):
        raise Forbidden
    return Pass(_actor_of_session(key, now), session=key)


def _actor_of_session(key: str | None, now: datetime) -> Actor:
    request = HttpRequest()
    request.session = import_module(settings.SESSION_ENGINE).SessionStore(key)
    user = get_user(request)
    if not user.is_authenticated:
        raise NotSignedIn
    return access.actor_for_user(user, request.session.get("membership"), now)


def _from_our_page(request: HttpRequest) -> bool:
    """Whether the full origin, with scheme and port, is this server's own or one named in the settings."""
    origin = request.headers.get("Origin")
    try:
        own = f"{request.scheme}://{request.get_host()}"
    except DisallowedHost:
        return False
    return origin == own or origin in settings.CSRF_TRUSTED_ORIGINS


def _request(scope: Mapping[str, object]) -> HttpRequest:
    """The handshake as Django sees requests, for its reading of headers, cookies, host and proxies."""
    scheme = SCHEMES.get(str(scope.get("scheme", "ws")), "http")
    return ASGIRequest({**scope, "type": "http", "method": "GET", "scheme": scheme}, BytesIO())


def _place(actor: Actor) -> tuple[object, ...]:
    return actor.membership, actor.role, actor.unit
