"""The book of orders of one case: finding one, moving it on, and what a dose means for it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import msgspec

from consult import problems
from consult.actions.entry import Data, Draft
from consult.actions.proposals import OTHER, proposal_of
from consult.card.facts import clinical
from consult.clock import stamp, when
from consult.models import Intervention
from consult.models import Order as OrderRow
from consult.resources import order_content, order_dict
from dosing import limits, units
from dosing.facts import Amount, Order
from dosing.rule_set import RuleSet

State = OrderRow.State


def named(draft: Draft, data: Data) -> dict[str, Any] | None:
    """The order that an intervention names, open or not; raises Invalid where this case has none with that id."""
    if not data.get("order"):
        return None
    uid = str(data["order"])
    kept = next((each for each in draft.kept["orders"] if each["id"] == uid), None)
    if kept:
        return dict(kept)
    row = OrderRow.objects.filter(case=draft.case, uid=uid).first()
    if row is None:
        raise problems.Invalid.at("/order", "This case has no such order.", "not_found")
    return _as_it_stood(order_dict(row), data["given_at"])


def _as_it_stood(order: dict[str, Any], at: datetime) -> dict[str, Any]:
    """An order that has run out since holds for a dose that was given before, however late that is told."""
    read_back = any(step["step"] == "read back" for step in order["steps"])
    in_time = order.get("expires_at") and at <= when(order["expires_at"])
    held = order["state"] == State.EXPIRED and read_back and in_time
    return {**order, "state": str(State.READ_BACK)} if held else order


def row_of(draft: Draft, order: dict[str, Any] | None) -> OrderRow | None:
    """The row of an order of this case."""
    return OrderRow.objects.get(case=draft.case, uid=order["id"]) if order else None


def _carries_out(draft: Draft, order: dict[str, Any], data: Data) -> bool:
    """Whether a dose is one that was ordered: treatment and route, and no more, however it is stated."""
    if order["treatment"] != data["treatment"]:
        return False
    if data["treatment"] != OTHER:
        proposal, facts = proposal_of(data, data["given_at"]), clinical(draft.case, draft.kept)
        return limits.carries_out(proposal, facts, draft.rules, msgspec.convert(order, Order))
    by = order["route"] in ("", data.get("route"))
    return by and not (order.get("amount") and data.get("amount") and _more(data["amount"], order["amount"]))


def _more(amount: Data, ordered: Data) -> bool:
    try:
        given, most = units.quantity(Amount(**msgspec.to_builtins(amount))), units.quantity(Amount(**ordered))
    except units.WrongUnit:
        return True
    return given.units != most.units or bool(given.magnitude > most.magnitude)


def count_given(draft: Draft, order: dict[str, Any], data: Data) -> None:
    """Count a dose that was given as ordered; the order is given once all its doses are."""
    if order["state"] != State.READ_BACK or not _carries_out(draft, order, data) or _too_soon(order, data):
        return
    order["given"] += 1
    order["given_at"] = [*order.get("given_at", []), stamp(data["given_at"])]
    if order["given"] >= order["times"]:
        move(draft, order, State.GIVEN, at=data["given_at"])
    else:
        order["expires_at"] = stamp(expires_at(order, data["given_at"], draft.rules))
        keep(draft, order)


def uncount(draft: Draft, dose: Intervention) -> None:
    """A dose was entered in error: an order that it was counted for is to be given again, while it holds."""
    order = order_dict(dose.order) if dose.order else None
    times = [*(order.get("given_at") or [])] if order else []
    if order is None or stamp(dose.given_at) not in times:
        return
    times.remove(stamp(dose.given_at))
    order |= {"given": len(times), "given_at": times}
    if order["state"] == State.GIVEN:
        move(draft, order, State.READ_BACK, step="dose entered in error")
    else:
        keep(draft, order)


def change_ordered(draft: Draft, treatment: str, data: Data) -> dict[str, Any] | None:
    """The order, read back, that asks for this very change of what runs: its end, or its new rate."""
    for order in draft.kept["orders"]:
        if order["state"] == State.READ_BACK and order["treatment"] == treatment and _asks_for(order, data):
            return dict(order)
    return None


def fulfil(draft: Draft, order: dict[str, Any], at: datetime) -> None:
    """The change that was ordered has been made."""
    move(draft, {**order, "given": 1, "given_at": [stamp(at)]}, State.GIVEN, at=at)


def _asks_for(order: dict[str, Any], data: Data) -> bool:
    """Whether the change is the one ordered: an end for hold and stop, the very rate for a change."""
    if order["action"] in ("hold", "stop"):
        return data.get("status") is not None
    if order["action"] != "change" or not data.get("amount"):
        return False
    try:
        return units.same(Amount(**msgspec.to_builtins(data["amount"])), Amount(**order["amount"]))
    except units.WrongUnit:
        return False


def _too_soon(order: dict[str, Any], data: Data) -> bool:
    if not order.get("every_min") or not order.get("given_at"):
        return False
    last = max(when(each) for each in order["given_at"])
    return bool(timedelta(0) <= data["given_at"] - last < timedelta(minutes=order["every_min"]) - timedelta(seconds=15))


def expires_at(order: dict[str, Any], since: datetime, rules: RuleSet) -> datetime:
    """When an order ends by itself: a single dose soon, a series later, counted from the last step or dose."""
    single = order.get("times", 1) <= 1
    return since + timedelta(minutes=rules.watch.order_single_min if single else rules.watch.order_repeat_min)


def move(draft: Draft, order: dict[str, Any], state: str, *, at: datetime | None = None, **step: Any) -> None:
    """Give an order its new state and write down the step: what, when, who."""
    by = draft.actor.name if draft.actor else None
    step_name = step.pop("step", str(state))
    order["state"] = str(state)
    order["steps"] = [*order["steps"], {"step": step_name, "at": stamp(at or draft.now), "by": by, **step}]
    keep(draft, order)


def keep(draft: Draft, order: dict[str, Any]) -> None:
    """Save an order's row and put it on the card; a finished one leaves the card."""
    content = order_content(order)
    found = OrderRow.objects.filter(case=draft.case, uid=order["id"])
    found.update(state=order["state"], steps=order["steps"], data=content)
    others = [each for each in draft.kept["orders"] if each["id"] != order["id"]]
    finished = order["state"] in OrderRow.FINISHED
    draft.kept["orders"] = others if finished else sorted([*others, order], key=lambda each: str(each["requested_at"]))


def open_order(draft: Draft, row: OrderRow, *states: str) -> dict[str, Any]:
    """The order of this row as it is kept; raises WrongState where it is in none of the states."""
    order = order_dict(row)
    if order["state"] not in states:
        raise problems.WrongState(f"The order is {order['state'].replace('_', ' ')}{_last_step(order)}.")
    return order


def _last_step(order: dict[str, Any]) -> str:
    last = order["steps"][-1] if order["steps"] else None
    if not last or not last.get("by"):
        return ""
    return f" by {last['by']} at {when(last['at']).strftime('%H:%M:%S')}"


def void_per_kg(draft: Draft) -> None:
    """The weight has changed: orders by weight that are not yet read back must be made anew."""
    for order in list(draft.kept["orders"]):
        amount = order.get("amount") or {}
        by_weight = "/kg" in amount.get("unit", "")
        if by_weight and order["state"] == State.APPROVED:
            move(draft, dict(order), State.VOIDED, reason="the weight was changed")
