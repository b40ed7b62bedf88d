"""What became of an order, as a sentence: its last step, by whom, when and why. The same words stand in the refusal of
a step that comes too late, at the alert that it ends, and on every page; what is kept or sent says its time in UTC."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from consult.clock import utc, utc_seconds
from consult.state.parts import Order, Step
from dosing.ground.language import gettext as _

COSIGNED = "cosigned"
BY_ITSELF = "ended by itself"  # its end follows from something else; `by` is whose entry that was
BEGINS = ("give", "start")
ACTIONS = {"give": "", "start": _("start "), "change": _("change to "), "hold": _("hold "), "stop": _("stop ")}
WORDS = {
    "requested": _("requested"),
    "placed": _("ordered"),
    "seen": _("seen"),
    "approved": _("approved"),
    "changed": _("approved with a change"),
    "asked back": _("asked back about"),
    "cosigned": _("co-signed"),
    "declined": _("declined"),
    "withdrawn": _("withdrawn"),
    "misread": _("read back with a difference"),
    "read back": _("read back and matched"),
    "given": _("given"),
    "not_given": _("recorded as not given"),
    "expired": _("expired"),
    "voided": _("voided"),
    BY_ITSELF: _("ended by itself"),
    "dose entered in error": _("open again, as its dose was entered in error"),
}
CARRIED_OUT = {"given": _("carried out"), "not_given": _("recorded as not carried out")}  # what changes, holds or stops
SAID = {"asked back": _("asked back"), "answered": _("answered")}  # words about a request, which is as it was
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
        return _("about the order {told}", told=told(order, utc_seconds))
    was = "" if step.step == "expired" or (step.step == BY_ITSELF and not order.given_at) else _("was ")
    return _("the order {was}{told}", was=was, told=told(order, utc_seconds))


def told(order: Order, clock: Callable[[datetime], str]) -> str:
    """The same with its time, which ``clock`` tells: ``withdrawn by Dr. Merrin at 05:05:10: pressure came up``."""
    step = last_step(order)
    at = _at(step.at, clock)
    if step.step in SAID and step.by:
        return f"{step.by} {SAID[step.step]}{at}"
    by = _(" by {by}", by=step.by) if step.by and step.step != BY_ITSELF else ""
    because = lack(order) if step.step == "expired" else step.reason or ""
    return f"{_before(order, step, clock)}{_word(order, step.step)}{by}{at}" + (
        f": {because[:BECAUSE]}" if because else ""
    )


def _word(order: Order, step: str) -> str:
    words = CARRIED_OUT.get(step) if order.action not in BEGINS else None
    return words or WORDS.get(step, step)


def _at(at: datetime, clock: Callable[[datetime], str]) -> str:
    said = clock(at)
    return _(" at {said}", said=said) if said else ""


def _before(order: Order, step: Step, clock: Callable[[datetime], str]) -> str:
    """What was carried out keeps its own time, before that of the end which followed: ``given at 20:51:03, ``."""
    if step.step != BY_ITSELF or not order.given_at:
        return ""
    return f"{_word(order, 'given')}{_at(order.given_at[0], clock)}, "


def lack(order: Order) -> str:
    """What an order that ran out still lacked: ``not co-signed by a second physician``, ``1 of 3 given``."""
    if order.given:
        return _("{given} of {times} given", given=order.given, times=order.times)
    if order.waiting_for:
        return _("not co-signed by a second physician")
    done = _("given") if order.action in BEGINS else _("carried out")
    return _("read back but not {done}", done=done) if order.read_back_at else _("not read back")


def not_given(order: Order) -> str:
    """The alert about an order that ran out: ``NOT GIVEN: … 20 mcg IV, order by Dr. Merrin expired 12:10 UTC, …``."""
    lead = _("NOT GIVEN") if order.action in BEGINS else _("NOT DONE")
    by = _(" by {decided_by}", decided_by=order.decided_by) if order.decided_by else ""
    expired = f" {utc(order.expires_at)}" if order.expires_at else ""
    return _(
        "{lead}: {order}, order{by} expired{expired}, {lack}",
        lead=lead,
        order=order.shown,
        by=by,
        expired=expired,
        lack=lack(order),
    )
