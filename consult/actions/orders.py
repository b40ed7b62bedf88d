"""The closed loop: asked, decided, read back, given."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from consult import access, events, problems
from consult.access import Actor
from consult.actions import order_book
from consult.actions.cases import answer_for, sent
from consult.actions.entry import Data, Draft, Written, write
from consult.actions.order_book import State
from consult.actions.proposals import OTHER, checked, proposed, unlisted
from consult.card.doses import shown, title_of
from consult.card.facts import clinical
from consult.clock import stamp
from consult.models import Order
from consult.resources import order_answer, order_dict
from dosing.findings import BEYOND

WITHOUT_AMOUNT = ("hold", "stop")


def request_order(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Ask for an order as a crew, or give one as a physician; raises HardLimit beyond a hard limit."""
    return write(actor, case_uid, "order", data, now, act=_request, model=Order, show=order_answer)


def _request(draft: Draft, data: Data) -> Order:
    order_book.in_open_case(draft)
    placed = draft.sender.is_physician
    check = check_order(draft, data, placed=placed)
    state = State.APPROVED if placed else State.REQUESTED
    at = draft.happened_at()
    content = {**_content(draft, data, check), "requested_by": draft.sender.name, "requested_at": stamp(at)}
    if placed:
        answer_for(draft)
        content |= _approval(draft, content)
    else:
        content |= {"waiting_since": stamp(draft.now)}
    steps = [{"step": "placed" if placed else "requested", "at": stamp(at), "by": draft.sender.name}]
    row = Order(
        **draft.entry_fields(),
        at=at,
        at_as_sent=draft.at_as_sent,
        treatment=data["treatment"],
        state=state,
        data=content,
        steps=steps,
    )
    row.save(force_insert=True)
    draft.kept["orders"] = [*draft.kept["orders"], order_dict(row)]
    kind = events.OrderPlaced if placed else events.OrderRequested
    draft.event = kind(id=row.uid, content=sent(draft.as_sent), shown=content["shown"], check=check or {})
    return row


def _content(draft: Draft, data: Data, check: dict[str, Any] | None) -> dict[str, Any]:
    """An order's content with the fields that its steps will fill."""
    repeat = data.get("repeat") or {}
    kept = {name: value for name, value in sent(data).items() if name != "at"}
    empty = dict.fromkeys(
        (
            "decided_by",
            "decided_at",
            "approved_at",
            "read_back_at",
            "question",
            "waiting_since",
            "expires_at",
            "seen_at",
        )
    )
    return {
        **empty,
        **kept,
        "route": data.get("route") or "",
        "reason": data.get("reason") or "",
        "action": data.get("action") or "give",
        "repeat": data.get("repeat"),
        "times": repeat.get("times", 1),
        "every_min": repeat.get("every_min"),
        "title": title_of(data, draft.rules),
        "shown": shown(data, draft.rules),
        "check": check,
        "given": 0,
        "mismatch": False,
        "asked_for": None,
        "by": draft.sender.name,
    }


def _approval(draft: Draft, order: dict[str, Any]) -> dict[str, Any]:
    """What changes when an order is approved: who, when, and until when it holds."""
    return {
        "decided_by": draft.sender.name,
        "decided_at": stamp(draft.now),
        "approved_at": stamp(draft.now),
        "by": draft.sender.name,
        "seen_at": order.get("seen_at") or stamp(draft.now),
        "waiting_since": None,
        "expires_at": stamp(order_book.expires_at(order, draft.now, draft.rules)),
    }


def check_order(draft: Draft, data: Data, *, placed: bool) -> dict[str, Any] | None:
    """Check what is ordered; beyond a hard limit it is refused, beyond a standing limit a physician says why."""
    if data.get("action") in WITHOUT_AMOUNT:
        return None
    if data["treatment"] == OTHER:
        return unlisted(data, draft.rules)
    check = checked(proposed(data, draft.case, draft.now), clinical(draft.case, draft.kept), draft.rules)
    if check["verdict"] == "over_hard_limit":
        beyond = "; ".join(each["text"] for each in check["findings"] if each["level"] == "over_hard_limit")
        raise problems.HardLimit(beyond, [{"pointer": "/amount", "detail": beyond, "code": "hard_limit"}])
    if placed and check["verdict"] in BEYOND and not data.get("reason"):
        raise problems.Invalid.at("/reason", "An order beyond a standing limit needs its reason.", "required")
    return check


def write_order(
    actor: Actor, order_uid: UUID, operation: str, data: Data, now: datetime, act: Any, gate: Any
) -> Written:
    """Carry out one step of an order: `act` gets the draft, the content and the locked row."""
    row = access.order_for(actor, order_uid)
    return write(
        actor,
        row.case.uid,
        operation,
        data,
        now,
        act=lambda draft, values: act(draft, values, Order.objects.select_related("case").get(pk=row.pk)),
        model=Order,
        show=order_answer,
        gate=gate,
        target=order_uid,
    )


def decide(actor: Actor, order_uid: UUID, data: Data, now: datetime) -> Written:
    """Approve a request, approve it changed, ask back, or decline."""
    return write_order(actor, order_uid, "decision", data, now, _decide, access.require_physician)


def _decide(draft: Draft, data: Data, row: Order) -> Order:
    order_book.in_open_case(draft)
    order = order_book.open_order(draft, row, State.REQUESTED)
    order["seen_at"] = order["seen_at"] or stamp(draft.now)
    answer_for(draft)
    {"approve": _approve, "change": _approve, "ask": _ask, "decline": _decline}[data["decision"]](draft, order, data)
    draft.event = events.OrderDecided(
        order=row.uid,
        decision=data["decision"],
        content=sent(draft.as_sent),
        shown=order["shown"],
        asked_for=order["asked_for"] or "",
    )
    row.refresh_from_db()
    return row


def _approve(draft: Draft, order: dict[str, Any], data: Data) -> None:
    changed = {name: sent(data)[name] for name in ("amount", "route", "repeat") if data.get(name) is not None}
    proposed = {**order, **changed, "at": draft.now, "reason": data.get("reason") or order["reason"]}
    order["check"] = check_order(draft, proposed, placed=True)
    asked = order["shown"] if changed else None
    order |= {**changed, "asked_for": asked}
    if "repeat" in changed:
        order |= {"times": changed["repeat"].get("times", 1), "every_min": changed["repeat"].get("every_min")}
    order["decision_reason"] = data.get("reason") or None
    order["shown"] = shown(order, draft.rules)
    order |= _approval(draft, order)
    order_book.move(draft, order, State.APPROVED, step="changed" if data["decision"] == "change" else "approved")


def _ask(draft: Draft, order: dict[str, Any], data: Data) -> None:
    order |= {"question": data["text"], "waiting_since": None}
    order_book.move(draft, order, State.REQUESTED, step="asked back", text=data["text"])


def _decline(draft: Draft, order: dict[str, Any], data: Data) -> None:
    order |= {"decided_by": draft.sender.name, "decided_at": stamp(draft.now), "decision_reason": data["reason"]}
    order_book.move(draft, order, State.DECLINED, reason=data["reason"])


def withdraw(actor: Actor, order_uid: UUID, data: Data, now: datetime) -> Written:
    """Take an order back: the crew while it is a request, a physician always."""
    return write_order(actor, order_uid, "withdraw", data, now, _withdraw, access.require_writer)


def _withdraw(draft: Draft, data: Data, row: Order) -> Order:
    order = order_book.open_order(draft, row, State.REQUESTED, State.APPROVED, State.READ_BACK)
    if draft.sender.is_crew and order["state"] != State.REQUESTED:
        raise problems.WrongState("Once it is decided, only a physician withdraws an order; record it as not given.")
    return _end(draft, row, order, State.WITHDRAWN, data["reason"])


def not_given(actor: Actor, order_uid: UUID, data: Data, now: datetime) -> Written:
    """Record that an order was not carried out, and why."""
    return write_order(actor, order_uid, "not_given", data, now, _not_given, access.require_crew)


def _not_given(draft: Draft, data: Data, row: Order) -> Order:
    order = order_book.open_order(draft, row, State.APPROVED, State.READ_BACK)
    return _end(draft, row, order, State.NOT_GIVEN, data["reason"])


def _end(draft: Draft, row: Order, order: dict[str, Any], state: State, reason: str) -> Order:
    order_book.move(draft, order, state, reason=reason)
    draft.event = events.OrderEnded(order=row.uid, state=str(state), reason=reason)
    row.refresh_from_db()
    return row
