"""The closed loop of an order: `became` is the order as it stands after the step."""

from __future__ import annotations

from msgspec import Raw

from consult.events.base import Event, Id
from consult.state.check import Check
from consult.state.parts import Order, Said
from dosing.ground.facts import Amount


class OrderRequested(Event, frozen=True, kw_only=True):
    """The crew asks for an order beyond its standing limits."""

    kind = "order.requested"
    id: Id
    content: Raw
    shown: str
    check: Check | None
    became: Order


class OrderPlaced(Event, frozen=True, kw_only=True):
    """A physician has ordered of their own accord."""

    kind = "order.placed"
    id: Id
    content: Raw
    shown: str
    check: Check | None
    became: Order


class OrdersSeen(Event, frozen=True, kw_only=True):
    """A physician has these requests in front of them."""

    kind = "order.seen"
    orders: tuple[Id, ...]


class OrderDecided(Event, frozen=True, kw_only=True):
    """A physician has approved, changed, asked back about or declined a request; a changed one keeps what was asked."""

    kind = "order.decided"
    order: Id
    decision: str
    content: Raw
    shown: str
    asked_for: str
    became: Order


class OrderAnswered(Event, frozen=True, kw_only=True):
    """The crew has answered what a physician asked about its request."""

    kind = "order.answered"
    order: Id
    shown: str
    question: str
    text: str
    became: Order


class OrderCosigned(Event, frozen=True, kw_only=True):
    """A second physician has co-signed an order: from then on it can be read back."""

    kind = "order.cosigned"
    order: Id
    shown: str
    reason: str
    became: Order


class OrderReadBack(Event, frozen=True, kw_only=True):
    """The crew has repeated the order; `differences` names what did not match, `came_to` what is in the hand."""

    kind = "order.read_back"
    order: Id
    matches: bool
    differences: tuple[str, ...]
    content: Said
    came_to: Amount | None
    became: Order


class OrderSetBack(Event, frozen=True, kw_only=True):
    """An order is one step back: to be read back anew, for another weight; or to be decided again, and why."""

    kind = "order.set_back"
    order: Id
    shown: str
    reason: str
    became: Order


class OrderRestated(Event, frozen=True, kw_only=True):
    """An order comes to another volume or rate by another weight; a request is checked anew for what became known."""

    kind = "order.restated"
    order: Id
    shown: str
    became: Order


class OrderEnded(Event, frozen=True, kw_only=True):
    """An order came to its end: given, withdrawn, not given, expired or voided, and why."""

    kind = "order.ended"
    order: Id
    state: str
    reason: str
    became: Order
