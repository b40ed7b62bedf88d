"""The book of orders of one case: finding one, moving it on, and what a dose means for it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import msgspec
from django.utils.text import capfirst

from consult import events, problems, zone
from consult.actions.entry import Data, Draft
from consult.actions.proposals import OTHER, proposal_of, same_name
from consult.card.facts import clinical
from consult.clock import stamp, when
from consult.models import Case, Intervention
from consult.models import Order as OrderRow
from consult.render.order_story import last_step, sentence
from consult.resources import order_content, order_dict
from dosing import limits, units
from dosing.facts import Amount, Order
from dosing.rule_set import RuleSet

State = OrderRow.State
OPEN = (State.REQUESTED, State.APPROVED, State.READ_BACK)
HELD_BEFORE = (State.EXPIRED, State.WITHDRAWN, State.NOT_GIVEN)  # ends that an order read back can come to
CASE_ENDED = "case ended"


def named(draft: Draft, data: Data) -> dict[str, Any] | None:
    """The order that an intervention names, open or not; raises Invalid where this case has none with that id."""
    if not data.get("order"):
        return None
    uid = str(data["order"])
    kept = next((each for each in draft.kept["orders"] if each["id"] == uid), None)
    if kept:
        return _as_it_stood(dict(kept), data["given_at"])
    row = OrderRow.objects.filter(case=draft.case, uid=uid).first()
    if row is None:
        raise problems.Invalid.at("/order", "This case has no such order.", "not_found")
    return _as_it_stood(order_dict(row), data["given_at"])


def _as_it_stood(order: dict[str, Any], at: datetime) -> dict[str, Any]:
    """The order as it stood when a dose was given, however late that is told: what ended since held until then."""
    in_time = order.get("expires_at") and at <= when(order["expires_at"])
    if order["state"] == State.READ_BACK:
        return order if in_time or not order.get("expires_at") else _run_out(order)
    stood = order["state"] in HELD_BEFORE and order.get("read_back_at") and at <= when(last_step(order)["at"])
    return {**order, "state": str(State.READ_BACK)} if in_time and stood else order


def _run_out(order: dict[str, Any]) -> dict[str, Any]:
    """An order past its time, before the sweep has come to write that down."""
    step = {"step": "expired", "at": order["expires_at"], "by": None}
    return {**order, "state": str(State.EXPIRED), "steps": [*order["steps"], step]}


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
    by = order["route"] in ("", data.get("route")) and same_name(order, data)
    return by and not (order.get("amount") and data.get("amount") and _more(data["amount"], order["amount"]))


def _more(amount: Data, ordered: Data) -> bool:
    try:
        given, most = units.quantity(Amount(**msgspec.to_builtins(amount))), units.quantity(Amount(**ordered))
    except units.WrongUnit:
        return True
    return given.units != most.units or bool(given.magnitude > most.magnitude)


def count_given(draft: Draft, order: dict[str, Any], data: Data, state: str) -> None:
    """Count a dose that was given as ordered; the order is given once all its doses are.

    `state` is how the order stands now: one that somebody ended since stays ended, one that ran out goes on.
    """
    if order["state"] != State.READ_BACK or not _carries_out(draft, order, data) or _too_soon(order, data):
        return
    order["given"] += 1
    order["given_at"] = [*order.get("given_at", []), stamp(data["given_at"])]
    if order["given"] >= order["times"]:
        move(draft, order, State.GIVEN, at=data["given_at"])
    elif state in (State.WITHDRAWN, State.NOT_GIVEN):
        keep(draft, order | {"state": str(state)})
    else:
        order["expires_at"] = stamp(expires_at(order, data["given_at"], draft.rules))
        keep(draft, order)
    _told_late(draft, order)


def as_counted(dose: Intervention) -> Order | None:
    """The order as it stood when this dose was given as it asks; None where the dose was not counted for one."""
    order = order_dict(dose.order) if dose.order else None
    times = sorted((order.get("given_at") or []) if order else [], key=when)
    if order is None or stamp(dose.given_at) not in times:
        return None
    stood = {**order, "state": str(State.READ_BACK), "given": times.index(stamp(dose.given_at))}
    return msgspec.convert({**stood, "told": sentence(order)}, Order)


def uncount(draft: Draft, dose: Intervention) -> None:
    """A dose was entered in error: an order that it was counted for is to be given again, while it holds."""
    order = order_dict(dose.order) if dose.order else None
    times = [*(order.get("given_at") or [])] if order else []
    if order is None or stamp(dose.given_at) not in times:
        return
    times.remove(stamp(dose.given_at))
    order |= {"given": len(times), "given_at": times}
    if order["state"] == State.GIVEN and draft.case.state != Case.State.OPEN:
        move(draft, order, State.WITHDRAWN, reason=CASE_ENDED)
    elif order["state"] == State.GIVEN:
        move(draft, order, State.READ_BACK, step="dose entered in error")
    else:
        keep(draft, order)


def change_ordered(draft: Draft, treatment: str, data: Data, at: datetime) -> dict[str, Any] | None:
    """The order, read back then, that asks for this very change of what runs: its end, or its new rate."""
    ended = OrderRow.objects.filter(case=draft.case, treatment=treatment, state__in=HELD_BEFORE)
    known = [each for each in draft.kept["orders"] if each["treatment"] == treatment]
    for order in [*known, *map(order_dict, ended.select_related("case").order_by("-id"))]:
        stood = _as_it_stood(dict(order), at)
        if stood["state"] == State.READ_BACK and _asks_for(stood, data):
            return stood
    return None


def fulfil(draft: Draft, order: dict[str, Any], at: datetime) -> None:
    """The change that was ordered has been made."""
    move(draft, {**order, "given": 1, "given_at": [stamp(at)]}, State.GIVEN, at=at)
    _told_late(draft, order)


def _told_late(draft: Draft, order: dict[str, Any]) -> None:
    """An order that has run out was carried out in time after all."""
    draft.ended.append(("order_not_given", order["id"], "carried out in time, told late"))


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
    """The order of this row as it is kept; raises WrongState where it is in none of the states, or has run out.

    That an order has run out holds from its time on, not from when the sweep comes to write it down.
    """
    order = order_dict(row)
    if order["state"] not in states:
        raise problems.WrongState(f"{capfirst(sentence(order))}.")
    if order.get("expires_at") and when(order["expires_at"]) < draft.now:
        raise problems.WrongState(f"The order expired at {zone.utc_seconds(when(order['expires_at']))}.")
    return order


def in_open_case(draft: Draft) -> None:
    """Raise WrongState where the case has ended: nothing is asked for or decided any more."""
    if draft.case.state != Case.State.OPEN:
        ended = f" at {zone.utc_seconds(draft.case.ended_at)}" if draft.case.ended_at else ""
        how = "handed over" if draft.case.state == Case.State.HANDED_OVER else "closed"
        raise problems.WrongState(f"The case was {how}{ended}: nothing is ordered or decided in it any more.")


def void_per_kg(draft: Draft) -> None:
    """The weight has changed: orders by weight that are not yet read back must be made anew."""
    for order in list(draft.kept["orders"]):
        amount = order.get("amount") or {}
        by_weight = "/kg" in amount.get("unit", "")
        if by_weight and order["state"] == State.APPROVED:
            end(draft, dict(order), State.VOIDED, "the weight was changed")


def withdraw_open(draft: Draft) -> None:
    """The case ends: what was asked or ordered in it and is not carried out ends with it."""
    for order in list(draft.kept["orders"]):
        end(draft, dict(order), State.WITHDRAWN, CASE_ENDED)


def end(draft: Draft, order: dict[str, Any], state: str, reason: str) -> None:
    """End an order because of what this write is about, with a journal line of its own."""
    move(draft, order, state, reason=reason)
    draft.followed.append(events.OrderEnded(order=order["id"], state=str(state), reason=reason))
