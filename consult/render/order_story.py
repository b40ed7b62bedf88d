"""What became of an order, as pages tell it: its steps, what holds, what was changed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from consult import zone
from consult.case import order_words
from consult.case.order_words import BEGINS, BY_ITSELF, WORDS
from consult.state.parts import Order as OrderState
from dosing.ground.language import gettext as _
from dosing.ground.language import words

Order = Mapping[str, Any]

LOOP = (_("requested"), _("ordered"), _("read back"), _("given"))
REACHED = {"requested": 1, "approved": 2, "read_back": 3, "given": 4}
AWAITED = {"requested": _("awaiting decision"), "approved": _("awaiting read-back"), "read_back": _("to be given")} | {
    "cosign": _("awaiting co-sign")
}
ENDED = ("given", "declined", "withdrawn", "not_given", "expired", "voided")
UNREADY = {
    "requested": _("AWAITING DECISION"),
    "approved": _("NOT READ BACK"),
    "cosign": _("WAITS FOR A SECOND PHYSICIAN"),
}


def _state(order: Order) -> OrderState:
    return msgspec.convert(order, OrderState)


def last_step(order: Order) -> dict[str, Any]:
    """The newest step of an order: what, when, by whom, perhaps why."""
    step: dict[str, Any] = msgspec.to_builtins(order_words.last_step(_state(order)))
    return step


def told(order: Order) -> str:
    """What happened last, by whom and when: ``withdrawn by Dr. Merrin at 05:05:10: pressure came up``."""
    return order_words.told(_state(order), zone.clock_seconds)


def sentence(order: Order) -> str:
    """The same as a whole sentence without its point."""
    return order_words.sentence(_state(order))


def by_itself(order: Order) -> bool:
    """Whether it ended because what it was about did, and nobody withdrew it."""
    return bool(order.get("steps")) and order["steps"][-1]["step"] == BY_ITSELF


def ended_as(order: Order) -> str:
    """How an order ended, for the timeline."""
    return _("Order ended by itself") if by_itself(order) else _("Order {state}", state=words(order["state"]))


def stage(order: Order) -> str:
    """The order's state, or ``cosign`` while it waits for a second physician."""
    return str(order.get("waiting_for") or order["state"]) if order["state"] == "approved" else str(order["state"])


def open_question(order: Order) -> str:
    """What a physician asked the crew about a request and has no answer to; else nothing."""
    asked = order["state"] == "requested" and order.get("answer") is None
    return str(order.get("question") or "") if asked else ""


def talk(order: Order) -> list[dict[str, Any]]:
    """What was asked and answered about a request, in turn: who, when, which words."""
    said = [each for each in order.get("steps") or () if each["step"] in order_words.SAID]
    return [{**each, "asks": each["step"] == "asked back"} for each in said]


def steps(order: Order) -> list[dict[str, Any]]:
    """The steps of the loop: what is done, the one that is open in words, what is ahead.

    An order that a physician gave of their own accord was never requested; one that ended early has no open step.
    """
    told_by_times = 1 + bool(order.get("approved_at")) + bool(order.get("read_back_at"))
    reached = REACHED.get(order["state"], told_by_times)
    begun = 1 if (order.get("steps") or [{"step": ""}])[0]["step"] == "placed" else 0
    waits = AWAITED.get(stage(order), "")
    if order.get("titrate") and order.get("given"):
        waits = _("may be stepped up by the crew")
    so_far = _(" {given} of {times}", given=order["given"], times=order["times"]) if order.get("times", 1) > 1 else ""
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
    if stage(order) in UNREADY:
        return _(
            "{unready}: do not {what}", unready=UNREADY[stage(order)], what=_("give") if begins else _("carry it out")
        )
    if order["state"] == "given":
        return _("GIVEN ALREADY: do not give again") if begins else _("DONE ALREADY: do not repeat it")
    more = _(" more") if begins and order.get("given") else ""
    # AS in capitals is an ear; nobody has withdrawn what ended by itself
    ended = _("ENDED") if by_itself(order) else WORDS[order["state"]].removeprefix("recorded as ").upper()
    return _("{ended}: do not {what}{more}", ended=ended, what=_("give") if begins else _("carry it out"), more=more)


def changed(order: Order) -> str:
    """A changed order beside what was asked, what both share once: ``push dose 25 mcg IV, not 30 mcg IV``."""
    shown, asked = str(order["shown"]), str(order.get("asked_for") or "")
    if not asked or asked == shown:
        return shown
    ours, theirs = shown.split(), asked.split()
    while ours and theirs and ours[0] == theirs[0]:
        ours, theirs = ours[1:], theirs[1:]
    return _("{shown}, not {theirs}", shown=shown, theirs=" ".join(theirs)) if theirs else shown
