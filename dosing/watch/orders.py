"""What an order waits for too long, and when it runs out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from dosing.ground.facts import Order
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text
from dosing.watch.look import HIGH, MEDIUM, Look, clock

WORDS_ALONE = ("change", "hold", "stop")  # what runs is in hand


def watch_order(look: Look, order: Order) -> None:
    """Whether it has run out, or waits for what somebody must be told of."""
    if order.state in ("approved", "read_back") and order.expires_at is not None and look.passed(order.expires_at):
        look.states["expired"].append(order.id)
    elif look.facts.state == "open":
        for kind, priority, text, since in _asks(look, order):
            if look.passed(since):
                look.stands(kind, order.id, priority, text, since)


def _asks(look: Look, order: Order) -> Iterator[tuple[str, str, str, datetime]]:
    """What this order waits for: kind, priority, text and the moment from which that is too long."""
    title, rule = look.title(order.treatment, order.title), look.rules.watch
    if order.known_since and order.waiting_since is not None:
        words = _("{title} is to be decided again: {known_since}", title=title, known_since=order.known_since)
        yield "order_waiting", MEDIUM, words, order.waiting_since  # the crew may have it in hand: at once
    elif order.state == "requested" and order.waiting_since is not None:
        text = _(
            "Request for {title} waiting since {waiting_since}", title=title, waiting_since=clock(order.waiting_since)
        )
        yield "order_waiting", MEDIUM, text, order.waiting_since + timedelta(seconds=rule.request_alarm_s)
    elif order.waits_for_cosign and order.waiting_since is not None:
        text = _(
            "Order for {title} waits for a second physician since {waiting_since}",
            title=title,
            waiting_since=clock(order.waiting_since),
        )
        yield "order_waiting", MEDIUM, text, order.waiting_since + timedelta(seconds=rule.request_alarm_s)
    elif order.state == "approved" and order.misread_at is not None:
        yield (
            "readback_mismatch",
            HIGH,
            _("Read-back of {title} does not match the order", title=title),
            order.misread_at,
        )
    elif order.state == "approved" and order.to_read_back_from is not None:
        text = _(
            "Order for {title} not read back since {since}",
            title=_with_rate(title, order),
            since=clock(order.to_read_back_from),
        )
        wait = rule.read_back_mixed_s if _must_be_prepared(look, order) else rule.waiting_s
        yield "readback_waiting", MEDIUM, text, order.to_read_back_from + timedelta(seconds=wait)


def _with_rate(title: str, order: Order) -> str:
    """The title with the rate of an infusion, by which one of two orders is meant."""
    rate = order.amount is not None and order.amount.unit.endswith(("/min", "/h"))
    return f"{title} {amount_text(order.amount)}" if rate and order.amount is not None else title


def _must_be_prepared(look: Look, order: Order) -> bool:
    """Whether something is drawn up, mixed or hung before it can be read back: nothing of it is in hand."""
    if order.action in WORDS_ALONE:
        return False
    in_hand = (each for each in look.facts.containers if each.discarded_at is None)
    return all(each.treatment != order.treatment for each in in_hand)
