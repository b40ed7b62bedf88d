"""Who is calling: a program by its token, or a person by the browser's session."""

from __future__ import annotations

from rest_framework.authentication import SessionAuthentication
from rest_framework.request import Request

from consult import access, clock
from consult.access import Actor

SCHEME = "token"


class TokenOrSession(SessionAuthentication):
    """`Authorization: Token …`, else the session with CSRF; `request.user` and `request.auth` are the `Actor`."""

    def authenticate(self, request: Request) -> tuple[Actor, Actor] | None:
        """The caller; None when nothing says who, `NotSignedIn` (401) when what says so is not valid."""
        now = getattr(request, "received_at", None) or clock.now()
        scheme, _, token = request.META.get("HTTP_AUTHORIZATION", "").partition(" ")
        if scheme.lower() == SCHEME:
            actor = access.actor_for_token(token.strip(), now)
        else:
            user = getattr(request._request, "user", None)
            if user is None or not user.is_authenticated:
                return None
            self.enforce_csrf(request)
            actor = access.actor_for_user(user, request.session.get("membership"), now)
        return actor, actor

    def authenticate_header(self, request: Request) -> str:
        """Makes a missing sign-in a 401."""
        return 'Token realm="api"'
