"""What became of an order, as a sentence: its last step, by whom, when and why. The same words stand in the refusal of
a step that comes too late, at the alert that it ends, and on every page; what is kept or sent says its time in UTC."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from consult import zone
from consult.clock import when

Order = Mapping[str, Any]

BEGINS = ("give", "start")
ACTIONS = {"give": "", "start": "start ", "change": "change to ", "hold": "hold ", "stop": "stop "}
WORDS = {
    "requested": "requested",
    "placed": "ordered",
    "approved": "approved",
    "changed": "approved with a change",
    "asked back": "asked back about",
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
LOOP = ("requested", "ordered", "read back", "given")
REACHED = {"requested": 1, "approved": 2, "read_back": 3, "given": 4}
AWAITED = {"requested": "awaiting decision", "approved": "awaiting read-back", "read_back": "to be given"}
ENDED = ("given", "declined", "withdrawn", "not_given", "expired", "voided")
UNREADY = {"requested": "AWAITING DECISION", "approved": "NOT READ BACK"}
BECAUSE = 120  # characters of a reason that stand in a sentence; the whole stands in the order


def last_step(order: Order) -> dict[str, Any]:
    """The newest step of an order: what, when, by whom, perhaps why."""
    steps = order.get("steps") or [{"step": order["state"], "at": order.get("requested_at")}]
    return dict(steps[-1])


def became(order: Order) -> str:
    """What happened last and by whom, with the reason: ``withdrawn by Dr. Merrin: pressure came up``."""
    return _sentence(order, lambda _: "")


def told(order: Order) -> str:
    """The same with its time, for a page: ``withdrawn by Dr. Merrin at 05:05:10: pressure came up``."""
    return _sentence(order, zone.clock_seconds)


def sentence(order: Order) -> str:
    """The same for the record, in UTC and without its point: ``the order was withdrawn by …``, ``… expired at …``."""
    was = "" if last_step(order)["step"] == "expired" else "was "
    return f"the order {was}{_sentence(order, zone.utc_seconds)}"


def _sentence(order: Order, clock: Callable[[datetime], str]) -> str:
    step = last_step(order)
    words = WORDS.get(step["step"], str(step["step"]))
    by = f" by {step['by']}" if step.get("by") else ""
    said = clock(when(step["at"])) if step.get("at") else ""
    at = f" at {said}" if said else ""
    because = lack(order) if step["step"] == "expired" else str(step.get("reason") or "")
    return f"{words}{by}{at}" + (f": {because[:BECAUSE]}" if because else "")


def lack(order: Order) -> str:
    """What an order that ran out still lacked: ``not read back``, ``read back but not given``, ``1 of 3 given``."""
    if order.get("given"):
        return f"{order['given']} of {order['times']} given"
    done = "given" if (order.get("action") or "give") in BEGINS else "carried out"
    return f"read back but not {done}" if order.get("read_back_at") else "not read back"


def not_given(order: Order) -> str:
    """The alert about an order that ran out: ``NOT GIVEN: … 20 mcg IV, order by Dr. Merrin expired 12:10 UTC, …``."""
    action = order.get("action") or "give"
    lead = "NOT GIVEN" if action in BEGINS else "NOT DONE"
    by = f" by {order['decided_by']}" if order.get("decided_by") else ""
    clock = zone.utc(when(order["expires_at"]))
    return f"{lead}: {ACTIONS[action]}{order['shown']}, order{by} expired {clock}, {lack(order)}"


def steps(order: Order) -> list[dict[str, Any]]:
    """The steps of the loop: what is done, the one that is open in words, what is ahead.

    An order that a physician gave of their own accord was never requested; one that ended early has no open step.
    """
    told_by_times = 1 + bool(order.get("approved_at")) + bool(order.get("read_back_at"))
    reached = REACHED.get(order["state"], told_by_times)
    begun = 1 if (order.get("steps") or [{"step": ""}])[0]["step"] == "placed" else 0
    waits = AWAITED.get(order["state"], "")
    so_far = f" {order['given']} of {order['times']}" if order.get("times", 1) > 1 else ""
    names = [*LOOP[:-1], LOOP[-1] + so_far]
    return [
        {
            "name": waits if waits and place == reached else name,
            "done": place < reached,
            "open": bool(waits) and place == reached,
        }
        for place, name in enumerate(names)
    ][begun:]


def held(order: Order) -> str:
    """What a crew is told whose page uses an order that does not hold: ``WITHDRAWN: do not give``."""
    begins = (order.get("action") or "give") in BEGINS
    if order["state"] in UNREADY:
        return f"{UNREADY[order['state']]}: do not {'give' if begins else 'carry it out'}"
    if order["state"] == "given":
        return "GIVEN ALREADY: do not give again" if begins else "DONE ALREADY: do not repeat it"
    more = " more" if begins and order.get("given") else ""
    return f"{WORDS[order['state']].upper()}: do not {'give' if begins else 'carry it out'}{more}"


def changed(order: Order) -> str:
    """A changed order beside what was asked, what both share once: ``push dose 25 mcg IV, not 30 mcg IV``."""
    shown, asked = str(order["shown"]), str(order.get("asked_for") or "")
    if not asked or asked == shown:
        return shown
    ours, theirs = shown.split(), asked.split()
    while ours and theirs and ours[0] == theirs[0]:
        ours, theirs = ours[1:], theirs[1:]
    return f"{shown}, not {' '.join(theirs)}" if theirs else shown
