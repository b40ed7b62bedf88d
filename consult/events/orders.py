"""The closed loop of an order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from consult.events.base import Event, Id


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRequested(Event):
    """The crew asks for an order beyond its standing limits."""

    kind = "order.requested"
    id: Id
    content: dict[str, Any]
    shown: str
    check: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPlaced(Event):
    """A physician has ordered of their own accord."""

    kind = "order.placed"
    id: Id
    content: dict[str, Any]
    shown: str
    check: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrdersSeen(Event):
    """A physician has these requests in front of them."""

    kind = "order.seen"
    orders: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderDecided(Event):
    """A physician has approved, changed, asked back about or declined a request; a changed one keeps what was asked."""

    kind = "order.decided"
    order: Id
    decision: str
    content: dict[str, Any]
    shown: str
    asked_for: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderReadBack(Event):
    """The crew has repeated the order; `differences` names what did not match, `came_to` what is in the hand."""

    kind = "order.read_back"
    order: Id
    matches: bool
    differences: list[str]
    content: dict[str, Any]
    came_to: dict[str, Any] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderEnded(Event):
    """An order came to its end: given, withdrawn, not given, expired or voided, and why."""

    kind = "order.ended"
    order: Id
    state: str
    reason: str
