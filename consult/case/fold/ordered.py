"""Orders: those that are open, by when they were asked for."""

from __future__ import annotations

from msgspec.structs import replace

from consult import events
from consult.case.fold.entry import Entry
from consult.case.fold.lists import without
from consult.events import Event
from consult.state.case import CaseState
from consult.state.parts import Order, Step

REQUESTED, APPROVED, READ_BACK = "requested", "approved", "read_back"
OPEN = (REQUESTED, APPROVED, READ_BACK)
Stepped = (
    events.OrderRequested
    | events.OrderPlaced
    | events.OrderDecided
    | events.OrderAnswered
    | events.OrderCosigned
    | events.OrderReadBack
    | events.OrderSetBack
    | events.OrderRestated
    | events.OrderEnded
)


def order_told(event: Event) -> Order | None:
    """The order of which an event tells, as it stands after it."""
    told = getattr(event, "became", None)
    return told if isinstance(told, Order) else None


def became(state: CaseState, order: Order) -> CaseState:
    """The state with an order as it is now; a finished one is open no more."""
    others = without(state.orders, order.id)
    if order.state not in OPEN:
        return replace(state, orders=others)
    return replace(state, orders=tuple(sorted((*others, order), key=lambda each: each.requested_at)))


def stepped(state: CaseState, event: Stepped, entry: Entry) -> CaseState:
    """An order has gone a step on."""
    return became(state, event.became)


def seen(state: CaseState, event: events.OrdersSeen, entry: Entry) -> CaseState:
    """A physician has requests in front of them."""
    by = entry.by.name if entry.by else None
    for order in state.orders:
        if order.id in event.orders:
            step = Step(step="seen", at=entry.received_at, by=by)
            state = became(state, replace(order, seen_at=entry.received_at, steps=(*order.steps, step)))
    return state


def resumed(state: CaseState, entry: Entry) -> CaseState:
    """The crew has written: a request that was asked back about waits for the physician again, if not before."""
    at = entry.received_at
    waiting = tuple(
        replace(order, waiting_since=min(at, order.paused_until or at), paused_until=None)
        if order.state == REQUESTED and order.waiting_since is None
        else order
        for order in state.orders
    )
    return replace(state, orders=waiting)
