"""Orders: asked or placed, read, decided, read back, withdrawn, not given."""

from __future__ import annotations

from typing import Any, ClassVar
from uuid import UUID

import msgspec
from django.utils.text import capfirst
from rest_framework.request import Request
from rest_framework.response import Response

from api.serializers.orders import Answer, Decision, OrderEntry, ReadBackEntry, Reason
from api.views.base import ApiView, CreateView, WriteView, told_of
from consult import access
from consult.actions import orders, read_back
from consult.actions.entry import Written
from consult.render.order_story import sentence
from consult.resources.orders import Misread, OrderTold, ReadBackOrder, WrittenOrder, order_dict, order_told


class Orders(CreateView):
    """Request an order as crew, or give one as a physician."""

    entry, answer = OrderEntry, WrittenOrder
    subject = told_of(access.case_for)
    kind, act = orders.ORDER, staticmethod(orders.request_order)


class OrderView(ApiView):
    """One order as it stands now."""

    shown = OrderTold

    def get(self, request: Request, id: UUID) -> Response:
        """Read one order with its state, its check and the times of its steps."""
        order = access.order_for(self.actor, id)
        self.looked_at(order.case, "order")
        return Response(order_told(order, f"{capfirst(sentence(order_dict(order)))}."))


class OrderStep(WriteView):
    """A step of one order; any that does not follow from its state is 409 `wrong-state`."""

    answer: ClassVar[Any] = WrittenOrder
    subject = told_of(access.order_for)


class DecideOrder(OrderStep):
    """Decide on a request: approve, change, query or decline it. Takes control if nobody has it."""

    entry, kind, act = Decision, orders.DECISION, staticmethod(orders.decide)


class CosignOrder(OrderStep):
    """Co-sign an order as the second physician, not the one who decided it."""

    entry, kind, act = Reason, orders.COSIGN, staticmethod(orders.cosign)


class AnswerOrder(OrderStep):
    """Answer a physician's query about the request; the clock starts again."""

    entry, kind, act = Answer, orders.ANSWER, staticmethod(orders.answer)


class WithdrawOrder(OrderStep):
    """Withdraw an order: a crew while it is requested, a physician at any time."""

    entry, kind, act = Reason, orders.WITHDRAW, staticmethod(orders.withdraw)


class ReadBackView(OrderStep):
    """Read back an approved order. The answer names the fields that differ, never the right value."""

    entry, kind, act = ReadBackEntry, read_back.READ_BACK, staticmethod(read_back.read_back)
    answer = (ReadBackOrder, Misread)

    def written(self, done: Written[ReadBackOrder]) -> Response:
        """The order, if what was said matches; else only what differs, so that nobody reads the right value off."""
        if done.resource.matches:
            return super().written(done)
        misread = msgspec.convert(done.resource, Misread, from_attributes=True)
        return super().written(Written(misread, done.seq, done.created))


class NotGivenOrder(OrderStep):
    """Record that an order was not carried out, and why."""

    entry, kind, act = Reason, orders.NOT_GIVEN, staticmethod(orders.not_given)
