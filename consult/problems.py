"""What can go wrong with a call, as the contract's problem documents name it (RFC 9457)."""

from __future__ import annotations

from typing import TypedDict

from dosing.ground.language import gettext as _


class FieldError(TypedDict):
    """One fault in a request: where (a JSON pointer), what, and a code for programs."""

    pointer: str
    detail: str
    code: str


class Problem(Exception):
    """A call that cannot be carried out; subclasses say which kind, the detail says why in one sentence."""

    status = 500
    type = "error"
    title = _("The server could not do this.")

    def __init__(self, detail: str = "", errors: list[FieldError] | None = None) -> None:
        super().__init__(detail or self.title)
        self.detail = detail or self.title
        self.errors = errors or []


class NotSignedIn(Problem):
    """Nobody is signed in, or the token is unknown, expired or revoked."""

    status, type, title = 401, "not-signed-in", _("Sign in first.")


class Forbidden(Problem):
    """The role may not do this."""

    status, type, title = 403, "forbidden", _("Your role may not do this.")


class NotFound(Problem):
    """It does not exist, or not for this caller."""

    status, type, title = 404, "not-found", _("Not found.")


class TooMany(Problem):
    """Too many tries from one place in a short time."""

    status, type, title = 429, "too-many", _("Too many attempts from here. Wait a minute, then try again.")


class Unavailable(Problem):
    """The database is away for the moment: the same entry may be sent again."""

    status, type, title = 503, "unavailable", _("The database is not answering: send it again.")


class WrongState(Problem):
    """The step does not follow from the state that the thing is in."""

    status, type, title = 409, "wrong-state", _("This is not possible now.")


class IdReused(Problem):
    """The id already stands for another entry."""

    status, type, title = 409, "id-reused", _("This id already belongs to another entry.")


class StaleVersion(Problem):
    """The case has changed since the caller read it."""

    status, type, title = 412, "stale", _("The case has changed since you read it.")


class Invalid(Problem):
    """The content cannot be understood; `errors` names each fault."""

    status, type, title = 422, "invalid", _("The content is not valid.")

    @classmethod
    def at(cls, pointer: str, detail: str, code: str = "invalid") -> Invalid:
        """The problem for a single fault at a JSON pointer."""
        return cls(detail, [{"pointer": pointer, "detail": detail, "code": code}])


class HardLimit(Invalid):
    """The dose is beyond a hard limit of the rule set."""

    type, title = "hard-limit", _("Over a hard limit of the rule set.")
