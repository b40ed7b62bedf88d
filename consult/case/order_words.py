"""What became of an order, as a sentence: its last step, by whom, when and why. The same words stand in the refusal of
a step that comes too late, at the alert that it ends, and on every page; what is kept or sent says its time in UTC."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from consult.clock import utc, utc_seconds
from consult.state.parts import Order, Step

COSIGNED = "cosigned"
BEGINS = ("give", "start")
ACTIONS = {"give": "", "start": "start ", "change": "change to ", "hold": "hold ", "stop": "stop "}
WORDS = {
    "requested": "requested",
    "placed": "ordered",
    "approved": "approved",
    "changed": "approved with a change",
    "asked back": "asked back about",
    "cosigned": "co-signed",
    "declined": "declined",
    "withdrawn": "withdrawn",
    "misread": "read back with a difference",
    "read back": "read back and matched",
    "given": "given",
    "not_given": "recorded as not given",
    "expired": "expired",
    "voided": "voided",
    "dose entered in error": "open again, as its dose was entered in error",
}
CARRIED_OUT = {"given": "carried out", "not_given": "recorded as not carried out"}  # what changes, holds or stops
SAID = {"asked back": "asked back", "answered": "answered"}  # words about a request, which is as it was
BECAUSE = 120  # characters of a reason that stand in a sentence; the whole stands in the order


def last_step(order: Order) -> Step:
    """The newest step of an order: what, when, by whom, perhaps why."""
    return order.steps[-1] if order.steps else Step(step=order.state, at=order.requested_at, by=None)


def became(order: Order) -> str:
    """What happened last and by whom, with the reason: ``withdrawn by Dr. Merrin: pressure came up``."""
    step = last_step(order)
    if step.step in SAID and step.by:
        return f"{step.by} {'asks' if step.step == 'asked back' else 'answers'}: {step.text or ''}".rstrip(": ")
    return told(order, lambda _: "")


def sentence(order: Order) -> str:
    """The same for the record, in UTC and without its point: ``the order was withdrawn by …``, ``… expired at …``."""
    step = last_step(order)
    if step.step in SAID and step.by:
        return f"about the order {told(order, utc_seconds)}"
    was = "" if step.step == "expired" else "was "
    return f"the order {was}{told(order, utc_seconds)}"


def told(order: Order, clock: Callable[[datetime], str]) -> str:
    """The same with its time, which ``clock`` tells: ``withdrawn by Dr. Merrin at 05:05:10: pressure came up``."""
    step = last_step(order)
    words = CARRIED_OUT.get(step.step) if order.action not in BEGINS else None
    words = words or WORDS.get(step.step, step.step)
    said = clock(step.at)
    at = f" at {said}" if said else ""
    if step.step in SAID and step.by:
        return f"{step.by} {SAID[step.step]}{at}"
    by = f" by {step.by}" if step.by else ""
    because = lack(order) if step.step == "expired" else step.reason or ""
    return f"{words}{by}{at}" + (f": {because[:BECAUSE]}" if because else "")


def lack(order: Order) -> str:
    """What an order that ran out still lacked: ``not co-signed by a second physician``, ``1 of 3 given``."""
    if order.given:
        return f"{order.given} of {order.times} given"
    if order.waiting_for:
        return "not co-signed by a second physician"
    done = "given" if order.action in BEGINS else "carried out"
    return f"read back but not {done}" if order.read_back_at else "not read back"


def not_given(order: Order) -> str:
    """The alert about an order that ran out: ``NOT GIVEN: … 20 mcg IV, order by Dr. Merrin expired 12:10 UTC, …``."""
    lead = "NOT GIVEN" if order.action in BEGINS else "NOT DONE"
    by = f" by {order.decided_by}" if order.decided_by else ""
    expired = f" {utc(order.expires_at)}" if order.expires_at else ""
    return f"{lead}: {order.shown}, order{by} expired{expired}, {lack(order)}"
