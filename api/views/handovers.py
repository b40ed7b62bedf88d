"""Shift handovers: control of cases offered to a colleague, and accepted case by case."""

from __future__ import annotations

from uuid import UUID

from rest_framework.request import Request
from rest_framework.response import Response

from api.pages import page
from api.serializers.handovers import HandoverAccept, HandoverOffer
from api.views.base import ApiView, CreateView, WriteView
from consult import access
from consult.actions import handovers
from consult.models import ControlOffer
from consult.resources.handovers import HandoverPage, ShiftHandover, shift_handovers


class Handovers(CreateView):
    """Offer control of cases to a colleague at the change of shift; until each is accepted it stays as it is.

    An offer ends when anybody takes control, which who offered it may do to keep it, when the case is offered anew or
    given up, and with the case. It does not run out.
    """

    entry, kind, answer, shown = HandoverOffer, handovers.OFFER, ShiftHandover, HandoverPage
    act = staticmethod(handovers.offer)

    def get(self, request: Request) -> Response:
        """List the offers that the caller made or is offered, newest first; for a supervisor those of all."""
        found = handovers.known_to(self.actor)
        return page(request, found, ("-received_at", "-id"), self._shown, HandoverPage)

    def _shown(self, firsts: list[ControlOffer]) -> list[ShiftHandover]:
        return shift_handovers([each.handover for each in firsts], self.actor.agency)


class HandoverView(ApiView):
    """One handover, as it stands case by case: to everybody of the agency but crews."""

    shown = ShiftHandover
    subject, gate = staticmethod(handovers.handed_over), staticmethod(access.require_watcher)

    def get(self, request: Request, id: UUID) -> Response:
        """What was offered to whom, and which of it is accepted."""
        return Response(self.admit())


class AcceptHandover(WriteView):
    """Take control of cases that a handover offers to the caller; what is not accepted stays with who had it."""

    entry, kind, answer = HandoverAccept, handovers.TAKE, ShiftHandover
    subject, act = staticmethod(handovers.handed_over), staticmethod(handovers.accept)
