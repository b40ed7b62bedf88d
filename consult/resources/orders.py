"""Orders and their read-back."""

from __future__ import annotations

from typing import Annotated

import msgspec
from msgspec import Struct

from consult.models import Order
from consult.state.parts import ENDED_ORDER, OPEN_ORDER
from consult.state.parts import Order as Stands
from dosing.ground.kinds import Id, Time, one_of

Plain = dict[str, object]


class OrderAnswer(Stands, frozen=True, kw_only=True):
    """An order or a request as the card shows it; ``at`` is its time as it was sent."""

    at: Time
    clock_offset_s: int | None


class OrderTold(OrderAnswer, frozen=True, kw_only=True):
    """An order; ``told`` is its last step, by whom, when and why, as a sentence."""

    told: str


class WrittenOrder(OrderAnswer, frozen=True, kw_only=True):
    """An order after a step; ``seq`` is the case's journal number then."""

    seq: int


class ReadBackOrder(WrittenOrder, frozen=True, kw_only=True):
    """An order after a read-back."""

    matches: bool
    differences: tuple[str, ...]


class Misread(Struct, frozen=True, kw_only=True):
    """What a crew hears of a read-back that does not match: which fields differ, never the right value."""

    id: Id
    case: Id
    state: Annotated[str, one_of(*OPEN_ORDER, *ENDED_ORDER)]
    matches: bool
    differences: tuple[str, ...]
    seq: int


def order_dict(row: Order) -> Plain:
    """An order as plain values: its content now, its state, the times of each step."""
    return {
        **row.data,
        "id": str(row.uid),
        "case": str(row.case.uid),
        "state": str(row.state),
        "steps": row.steps,
    }


def order_state(row: Order) -> Stands:
    """An order as the case's state holds it, open or not."""
    return msgspec.convert(order_dict(row), Stands)


def order_told(row: Order, told: str) -> OrderTold:
    """An order with what became of it in words."""
    return msgspec.convert({**_as_sent(row), "told": told}, OrderTold)


def written_order(row: Order, seq: int) -> WrittenOrder:
    """An order after a step."""
    return msgspec.convert({**_as_sent(row), "seq": seq}, WrittenOrder)


def _as_sent(row: Order) -> Plain:
    return {**order_dict(row), "at": row.at_as_sent, "clock_offset_s": row.clock_offset_s}
