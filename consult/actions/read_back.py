"""Read-back: the crew repeats drug, route and amount, or says what is in the hand; only a match goes on."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

import msgspec

from consult import access, digest, events, problems
from consult.access import Actor
from consult.actions import order_book
from consult.actions.cases import sent
from consult.actions.entry import Data, Draft, Written, stored_entry
from consult.actions.order_book import State
from consult.actions.orders import write_order
from consult.actions.proposals import same_name
from consult.clock import stamp
from consult.models import Order
from dosing import in_hand
from dosing.facts import Amount, Weight

IN_HAND = ("amount", "strength", "volume", "concentration", "rate")


def read_back(actor: Actor, order_uid: UUID, data: Data, now: datetime) -> Written:
    """Repeat an order; the answer says whether it matches and which fields differ, never the right value."""
    written = write_order(actor, order_uid, "readback", data, now, _read_back, access.require_crew)
    return Written({**written.resource, **_outcome(actor, data, written)}, written.seq, written.created)


def _outcome(actor: Actor, data: Data, written: Written) -> dict[str, Any]:
    """What came of this read-back, also where it is repeated after another."""
    stored = None if written.created else stored_entry(actor, data["id"])
    told = msgspec.json.decode(stored.data) if stored else written.resource["read_back"]
    return {"matches": told["matches"], "differences": told["differences"]}


def _read_back(draft: Draft, data: Data, row: Order) -> Order:
    order = order_book.open_order(draft, row, State.APPROVED)
    if order.get("amount") and not any(data.get(name) for name in IN_HAND):
        text = "Either an amount, or strength and volume, or concentration and rate."
        raise problems.Invalid.at("/amount", text, "one_of")
    repeated = ("treatment", "route") if order["route"] else ("treatment",)
    differences = [name for name in repeated if data.get(name) != order[name]]
    if data["treatment"] == order["treatment"] and not same_name(data, order):
        differences.append("name")
    came_to = None
    if order.get("amount"):
        said, ordered = _said(data), _ordered(draft, order)
        came_to = digest.plain(in_hand.comes_to(said, ordered))
        if not in_hand.matches(said, ordered, draft.rules.pump):
            differences.append("amount")
    matches = not differences
    content = {name: value for name, value in sent(draft.as_sent).items() if name not in ("id", "order")}
    order |= {
        "mismatch": not matches,
        "misread_at": None if matches else stamp(draft.now),
        "read_back_at": stamp(draft.now) if matches else None,
        "read_back": {"matches": matches, "differences": differences, "said": content, "came_to": came_to},
    }
    order_book.move(
        draft, order, State.READ_BACK if matches else State.APPROVED, step="read back" if matches else "misread"
    )
    draft.event = events.OrderReadBack(
        order=row.uid, matches=matches, differences=differences, content=content, came_to=came_to
    )
    row.refresh_from_db()
    return row


def _said(data: Data) -> in_hand.Said:
    return msgspec.convert(sent({name: data[name] for name in IN_HAND if data.get(name)}), in_hand.Said)


def _ordered(draft: Draft, order: dict[str, Any]) -> in_hand.Ordered:
    return in_hand.Ordered(
        amount=Amount(**order["amount"]),
        concentration=Amount(**order["concentration"]) if order.get("concentration") else None,
        weight=msgspec.convert(draft.case.patient.get("weight"), Weight | None),
        treatment=draft.rules.treatments.get(order["treatment"]),
    )
