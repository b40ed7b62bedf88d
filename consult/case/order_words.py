"""What became of an order, as a sentence: its last step, by whom, when and why. The same words stand in the refusal of
a step that comes too late, at the alert that it ends, and on every page; what is kept or sent says its time in UTC."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from consult.clock import utc, utc_seconds
from consult.state.parts import DECIDE_AGAIN, SET_BACK, Order, Step
from dosing.ground.language import gettext as _

COSIGNED = "cosigned"
MATCHED = "read back"
BY_ITSELF = "ended by itself"  # its end follows from something else; `by` is whose entry that was
BEGINS = ("give", "start")
TO_DO = {"change": _("to be set"), "hold": _("to be held"), "stop": _("to be stopped")}  # another: to be given
DONE = {"change": _("set"), "hold": _("held"), "stop": _("stopped")}
NEWER = {"change": _("for a new rate"), "hold": _("to hold it"), "stop": _("to stop it")}
ACTIONS = {"give": "", "start": _("start "), "change": _("change to "), "hold": _("hold "), "stop": _("stop ")}
WORDS = {
    "requested": _("requested"),
    "placed": _("ordered"),
    "seen": _("seen"),
    "approved": _("approved"),
    "changed": _("approved with a change"),
    "cosigned": _("co-signed"),
    "declined": _("declined"),
    "withdrawn": _("withdrawn"),
    "misread": _("read back but not matched"),
    MATCHED: _("read back and matched"),
    "given": _("given"),
    "not_given": _("recorded as not given"),
    "expired": _("expired"),
    "voided": _("voided"),
    SET_BACK: _("set back, to be read back again"),
    DECIDE_AGAIN: _("set back to the physician, to be decided again"),
    BY_ITSELF: _("ended automatically"),
    "dose entered in error": _("open again, as its dose was entered in error"),
}
CARRIED_OUT = {"given": _("carried out"), "not_given": _("recorded as not carried out")}  # what changes, holds or stops
SAID = {  # words about a request, which is as it was
    "asked back": (_("{by} asks: {text}"), _("{by} sent a query"), _("{by} sent a query at {time}")),
    "answered": (_("{by} answers: {text}"), _("{by} answered the query"), _("{by} answered the query at {time}")),
}
BECAUSE = 120  # characters of a reason that stand in a sentence; the whole stands in the order


def last_step(order: Order) -> Step:
    """The newest step of an order: what, when, by whom, perhaps why."""
    return order.steps[-1] if order.steps else Step(step=order.state, at=order.requested_at, by=None)


def became(order: Order) -> str:
    """What happened last and by whom, with the reason: ``withdrawn by Dr. Merrin: pressure came up``."""
    step = last_step(order)
    if step.step in SAID and step.by:
        return SAID[step.step][0].format(by=step.by, text=step.text or "").rstrip(": ")
    return told(order, lambda _: "")


def sentence(order: Order) -> str:
    """The same for the record, in UTC and without its point: ``the order was withdrawn by …``, ``… expired at …``."""
    step = last_step(order)
    if step.step in SAID and step.by:
        return told(order, utc_seconds)
    by_itself = step.step == "expired" or (step.step == BY_ITSELF and not order.given_at)
    words = _("the order {became}") if by_itself else _("the order was {became}")
    return words.format(became=told(order, utc_seconds))


def told(order: Order, clock: Callable[[datetime], str]) -> str:
    """The same with its time, which ``clock`` tells: ``withdrawn by Dr. Merrin at 05:05:10: pressure came up``."""
    step = last_step(order)
    time = clock(step.at)
    if step.step in SAID and step.by:
        return SAID[step.step][2 if time else 1].format(by=step.by, time=time)
    by = step.by if step.step != BY_ITSELF else None
    because = lack(order) if step.step == "expired" else step.reason or ""
    return f"{_before(order, step, clock)}{_stepped(_word(order, step.step), by, time)}" + (
        f": {because[:BECAUSE]}" if because else ""
    )


def _word(order: Order, step: str) -> str:
    words = CARRIED_OUT.get(step) if order.action not in BEGINS else None
    return words or WORDS.get(step, step)


def _stepped(step: str, by: str | None, time: str) -> str:
    """A step with who took it and when, as far as each is told."""
    if by and time:
        return _("{step} by {by} at {time}", step=step, by=by, time=time)
    if by:
        return _("{step} by {by}", step=step, by=by)
    return _("{step} at {time}", step=step, time=time) if time else step


def _before(order: Order, step: Step, clock: Callable[[datetime], str]) -> str:
    """What was carried out keeps its own time, before that of the end which followed: ``given at 20:51:03, ``."""
    if step.step != BY_ITSELF or not order.given_at:
        return ""
    return f"{_stepped(_word(order, 'given'), None, clock(order.given_at[0]))}, "


def lack(order: Order) -> str:
    """What an order that ran out still lacked: ``not co-signed by a second physician``, ``1 of 3 given``."""
    if order.given:
        return _("{given} of {times} given", given=order.given, times=order.times)
    if order.waiting_for:
        return _("not co-signed by a second physician")
    if not order.read_back_at:
        return _("not read back")
    return _("read back but not given") if order.action in BEGINS else _("read back but not carried out")


def not_given(order: Order) -> str:
    """The alert about an order that ran out: ``NOT GIVEN: … 20 mcg IV, order by Dr. Merrin expired 12:10 UTC, …``."""
    lead = _("NOT GIVEN") if order.action in BEGINS else _("NOT DONE")
    words = _("{lead}: {order}, order by {by} expired {time}, {lack}")
    expired = utc(order.expires_at) if order.expires_at else ""
    return words.format(lead=lead, order=order.shown, by=order.decided_by, time=expired, lack=lack(order))
