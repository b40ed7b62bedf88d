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
    """Offer control of cases to a colleague at the change of shift; each stays as it is until it is accepted.

    An offer does not run out. It ends when anybody takes control, when the case is offered again or given up, and with
    the case. To keep a case, whoever offered it takes control again.
    """

    entry, kind, answer, shown = HandoverOffer, handovers.OFFER, ShiftHandover, HandoverPage
    act = staticmethod(handovers.offer)

    def get(self, request: Request) -> Response:
        """List the offers that the caller made or received, newest first; a supervisor sees all."""
        found = handovers.known_to(self.actor)
        return page(request, found, ("-received_at", "-id"), self._shown, HandoverPage)

    def _shown(self, firsts: list[ControlOffer]) -> list[ShiftHandover]:
        return shift_handovers([each.handover for each in firsts], self.actor.agency)


class HandoverView(ApiView):
    """One shift handover, case by case, for everybody in the agency except crews."""

    shown = ShiftHandover
    subject, gate = staticmethod(handovers.handed_over), staticmethod(access.require_watcher)

    def get(self, request: Request, id: UUID) -> Response:
        """Read one shift handover, case by case: what was offered to whom, and what is accepted; not for crews."""
        return Response(self.admit())


class AcceptHandover(WriteView):
    """Accept cases of a handover: the caller takes control of them. Those not accepted stay with who had them."""

    entry, kind, answer = HandoverAccept, handovers.TAKE, ShiftHandover
    subject, act = staticmethod(handovers.handed_over), staticmethod(handovers.accept)
