"""One order as its page tells it to the crew: the steps of the loop, what was ordered, what is asked of whom."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from consult.render.orders import how, misread, weight_range
from consult.screens.crew_case import ORDER_WORDS, order_row

STEPS = ("requested", "ordered", "read back", "given")
REACHED = {"requested": 1, "approved": 2, "read_back": 3, "given": 4}
BEGIN = ("give", "start")
HEADINGS = {
    "requested": "Order requested",
    "approved": "Ordered: read it back before it is given",
    "read_back": "Read back and matched: prepare and give",
    "given": "Given as ordered",
    "declined": "Declined",
    "withdrawn": "Withdrawn",
    "not_given": "Not given",
    "expired": "Expired: request it again if it is still needed",
    "voided": "Voided: the weight changed. Request it again",
}
SAID = {"treatment": "drug", "name": "name of the drug", "route": "route", "amount": "dose, strength or rate"}


def order_page(order: Mapping[str, Any]) -> dict[str, Any]:
    """The order with its heading, steps, findings and facts in words."""
    state = order["state"]
    decided = state not in ("requested", "withdrawn")
    return {
        **order_row(order),
        "heading": heading(order),
        "what": f"{order.get('decided_by') or 'Medical control'} ordered"
        if decided and state != "declined"
        else "You asked",
        "how": how(order),
        "weight_range": weight_range(order),
        "begins": order["action"] in BEGIN,
        "steps": steps(state),
        "findings": (order.get("check") or {}).get("findings") or [],
        "facts": facts(order),
        "mismatch": bool(order.get("mismatch")) and state == "approved",
        "mismatch_text": mismatch_text(order),
        "misread": misread(order),
    }


def heading(order: Mapping[str, Any]) -> str:
    """Where the order stands and what it asks for next."""
    if order_row(order)["question"]:
        return f"Query about the request: {order['title']}"
    if order["state"] == "read_back" and order["action"] not in BEGIN:
        return "Read back and matched: change what runs"
    return HEADINGS[order["state"]]


def steps(state: str) -> list[dict[str, Any]]:
    """The four steps of the loop, done, current or ahead; an order that ended early has no current step."""
    reached = REACHED.get(state, 0)
    return [
        {"name": name, "done": place < reached, "current": bool(reached) and place == reached}
        for place, name in enumerate(STEPS)
    ]


def mismatch_text(order: Mapping[str, Any]) -> str:
    """Which fields of the last read-back differed, never what would have been right."""
    differences = (order.get("read_back") or {}).get("differences") or ()
    return " and ".join(SAID.get(name, name) for name in differences)


def facts(order: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Who asked and decided, with which reasons."""
    known = [
        ("State", ORDER_WORDS[order["state"]]),
        ("Reason", order.get("reason")),
        ("Requested by", order.get("requested_by")),
        ("Decided by", order.get("decided_by")),
        ("You asked for", order.get("asked_for")),
        ("Changed because" if order.get("asked_for") else "Decision", order.get("decision_reason")),
        ("Given so far", f"{order['given']} of {order['times']}" if order.get("times", 1) > 1 else ""),
        ("Ended because", (order.get("steps") or [{}])[-1].get("reason")),
    ]
    return [(name, _name(value)) for name, value in known if value]


def _name(value: Any) -> str:
    return str(value["name"]) if isinstance(value, Mapping) else str(value)
