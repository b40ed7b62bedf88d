"""Orders: asked or placed, read, decided, read back, withdrawn, not given."""

from __future__ import annotations

from uuid import UUID

from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.orders import OrderAnswer, ReadBackAnswer, WrittenOrder
from api.serializers.orders import Decision, OrderEntry, ReadBack, Reason
from api.views.base import ApiView, CreateView, WriteView
from consult import access
from consult.actions import orders, read_back
from consult.resources import order_dict


class Orders(CreateView):
    """Ask for an order as crew, or place one as physician."""

    entry, answer = OrderEntry, WrittenOrder
    subject = staticmethod(access.case_for)
    act = staticmethod(orders.request_order)


class OrderView(ApiView):
    """One order as it stands."""

    shown = OrderAnswer

    def get(self, request: Request, id: UUID) -> Response:
        """The order with its state, its check and the times of its steps."""
        return Response(order_dict(access.order_for(self.actor, id)))


class OrderStep(WriteView):
    """A step of one order; any that does not follow from its state is 409 `wrong-state`."""

    answer = WrittenOrder
    subject = staticmethod(access.order_for)


class DecideOrder(OrderStep):
    """Approve, change, ask back about or decline a request."""

    entry, act, gate = Decision, staticmethod(orders.decide), staticmethod(access.require_physician)


class WithdrawOrder(OrderStep):
    """Withdraw an order: the crew while it is requested, a physician always."""

    entry, act = Reason, staticmethod(orders.withdraw)


class ReadBackOrder(OrderStep):
    """Repeat an approved order; a difference is named, never the right value."""

    entry, act, gate = ReadBack, staticmethod(read_back.read_back), staticmethod(access.require_crew)
    answer = ReadBackAnswer


class NotGivenOrder(OrderStep):
    """Say that an order was not carried out, and why."""

    entry, act, gate = Reason, staticmethod(orders.not_given), staticmethod(access.require_crew)
