"""The closed loop: asked, decided, withdrawn, not given."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TypeVar
from uuid import UUID

import msgspec

from consult import access
from consult.access import Actor
from consult.actions.carry_out import Arrival
from consult.actions.entry import Data, Kind, Written, write
from consult.case.decide import answers, cosigns, orders
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.entries import AnswerEntry, DecisionEntry, OrderEntry, ReasonEntry
from consult.models import Order
from consult.problems import NotFound
from consult.resources.orders import WrittenOrder, written_order
from consult.state.parts import Order as OrderState
from dosing.ground.language import gettext as _

Content = TypeVar("Content", bound=msgspec.Struct)
Step = Callable[[Known, Asked[Content], OrderState], Decided]

ORDER = Kind("order", Order, written_order, happened="at", attends=True)
DECISION = Kind("decision", Order, written_order, gate=access.require_physician, attends=True)
ANSWER = Kind("answer", Order, written_order, gate=access.require_crew)
COSIGN = Kind("cosign", Order, written_order, gate=access.require_physician, attends=True)
WITHDRAW = Kind("withdraw", Order, written_order)
NOT_GIVEN = Kind("not_given", Order, written_order, gate=access.require_crew)


def request_order(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Ask for an order as a crew, or give one as a physician; raises HardLimit beyond a hard limit."""
    return write(actor, case, ORDER, data, now, OrderEntry, orders.request_order, arrival=arrival)


def write_step(
    actor: Actor,
    order: UUID,
    kind: Kind[Order, WrittenOrder],
    data: Data,
    now: datetime,
    content: type[Content],
    step: Step[Content],
    arrival: Arrival | None = None,
) -> Written[WrittenOrder]:
    """Carry out one step of an order; raises NotFound where the actor may not have it."""
    case = access.order_for(actor, order, to_write=True).case.uid

    def decide(known: Known, asked: Asked[Content]) -> Decided:
        stands = known.state.order(str(order)) or known.past.order(str(order))
        if stands is None:
            raise NotFound(_("There is no such order here."))
        return step(known, asked, stands)

    return write(actor, case, kind, data, now, content, decide, about=order, arrival=arrival)


def decide(actor: Actor, order: UUID, data: Data, now: datetime) -> Written:
    """Approve a request, approve it changed, ask back, or decline."""
    return write_step(actor, order, DECISION, data, now, DecisionEntry, orders.decide)


def cosign(actor: Actor, order: UUID, data: Data, now: datetime) -> Written:
    """Co-sign an order as the second physician."""

    def step(known: Known, asked: Asked[ReasonEntry], stands: OrderState) -> Decided:
        alike = access.same_person(actor, stands.decider)
        return cosigns.cosign(known, asked, stands, same_person=alike)

    return write_step(actor, order, COSIGN, data, now, ReasonEntry, step)


def answer(actor: Actor, order: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Answer a physician's question about a request."""
    return write_step(actor, order, ANSWER, data, now, AnswerEntry, answers.answer, arrival)


def withdraw(actor: Actor, order: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Take an order back: the crew while it is a request, a physician always."""
    return write_step(actor, order, WITHDRAW, data, now, ReasonEntry, orders.withdraw, arrival)


def not_given(actor: Actor, order: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Record that an order was not carried out, and why."""
    return write_step(actor, order, NOT_GIVEN, data, now, ReasonEntry, orders.not_given, arrival)
