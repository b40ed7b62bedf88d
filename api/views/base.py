"""What every view has in common: the clock read once, who is calling, content read strictly, one action, its answer."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any, ClassVar, NoReturn, cast

from rest_framework.exceptions import APIException
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.allowance import Allowance, Of, TooMuch
from api.serializers.entry import Entry
from consult import clock
from consult.access import Actor
from consult.actions import accounts, looks
from consult.actions.entry import Kind, Written
from consult.models import Case
from consult.problems import Problem


def told_of(find: Callable[..., Any]) -> Any:
    """Finds also what a former unit's crew may still tell of: what is wrong with its entry it reads as in a batch."""
    return staticmethod(partial(find, to_write=True))


class LengthRequired(APIException):
    """The body's length is not stated, so that its end could not be known beforehand."""

    status_code = 411
    default_detail = "Send the body with its Content-Length."
    default_code = "length_required"


class ApiView(APIView):
    """A route: `subject` finds what the id in the address names (404), `gate` refuses roles (403)."""

    subject: ClassVar[Any] = None
    gate: ClassVar[Any] = None
    answer: ClassVar[Any] = None  # the structures of what a write and a read answer
    shown: ClassVar[Any] = None
    creates: ClassVar[bool] = False
    throttle_classes = (Allowance,)
    counted: ClassVar[Of | None] = None  # as what a write counts toward its sender's allowance
    received_at: datetime

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Read the clock, find out who is calling, and refuse a body without a length."""
        self.received_at = request.received_at = clock.now()  # type: ignore[attr-defined]
        super().initial(request, *args, **kwargs)
        if "HTTP_TRANSFER_ENCODING" in request.META and not request.META.get("CONTENT_LENGTH"):
            raise LengthRequired

    def check_throttles(self, request: Request) -> None:
        """Refuse too much from one sender; a unit that is refused was heard of all the same."""
        if self.actor.is_crew and self.actor.unit:
            accounts.note_contact(self.actor.unit, self.received_at)
        super().check_throttles(request)

    def throttled(self, request: Request, wait: float | None) -> NoReturn:
        """Say when it may be sent again."""
        raise TooMuch(wait or 0)

    @property
    def actor(self) -> Actor:
        """Who is calling."""
        return cast(Actor, self.request.user)

    def admit(self) -> Any:
        """What the address names, if the caller may have it: 404 before 403."""
        found = self.subject(self.actor, self.kwargs["id"]) if self.subject else None
        if self.gate:
            self.gate(self.actor)
        return found

    def looked_at(self, case: Case, what: str) -> Case:
        """The case, after it is on record that this person looked at it; a device is nobody."""
        if self.actor.user_id:
            looks.note_look(self.actor, case, what, self.received_at)
        return case

    def content(self, entry: type[Entry]) -> dict[str, Any]:
        """The request's content; what is wrong with it is told only to somebody who may write here."""
        try:
            return entry.read(self.request.data, self.received_at)
        except (APIException, Problem):
            self.admit()
            raise

    def written(self, done: Written) -> Response:
        """The answer to a write: 201 for what is new, 200 for a repetition or a change of state."""
        return Response(done.resource, status=201 if done.created and self.creates else 200)


class WriteView(ApiView):
    """A POST that is one entry and one action; who may is said once, by the action's kind of entry."""

    entry: ClassVar[type[Entry]]
    kind: ClassVar[Kind[Any, Any]]
    act: ClassVar[Any]  # an action: actor, ids of the address, content, time -> Written
    counted: ClassVar[Of | None] = Of.ENTRIES

    def post(self, request: Request, **address: Any) -> Response:
        """Read, act, answer."""
        data = self.content(self.entry)
        return self.written(self.act(self.actor, *address.values(), data, self.received_at))

    def admit(self) -> Any:
        """What the address names, if the caller may have it and may do this to it."""
        found = super().admit()
        self.kind.gate(self.actor)
        return found


class CreateView(WriteView):
    """A POST that makes something: 201."""

    creates = True
