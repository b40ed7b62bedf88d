"""Shift handovers: control of cases offered to a colleague, and accepted case by case."""

from __future__ import annotations

from api.serializers.handovers import HandoverAccept, HandoverOffer
from api.views.base import CreateView, WriteView
from consult.actions import handovers
from consult.resources.handovers import ShiftHandover


class Handovers(CreateView):
    """Offer control of cases to a colleague at the change of shift; until each is accepted it stays as it is.

    An offer ends when anybody takes control, which who offered it may do to keep it, when the case is offered anew or
    given up, and with the case. It does not run out.
    """

    entry, kind, answer = HandoverOffer, handovers.OFFER, ShiftHandover
    act = staticmethod(handovers.offer)


class AcceptHandover(WriteView):
    """Take control of cases that a handover offers to the caller; what is not accepted stays with who had it."""

    entry, kind, answer = HandoverAccept, handovers.TAKE, ShiftHandover
    subject, act = staticmethod(handovers.handed_over), staticmethod(handovers.accept)
