"""A new rate held against the order that lets a crew step it up: its most, its interval, its step."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from msgspec import structs

from dosing.check.beside import in_force, rate_of
from dosing.check.case import Question
from dosing.check.dosage import Proposed
from dosing.check.findings import Finding, level_of
from dosing.check.guessed_weight import absolute
from dosing.ground import text
from dosing.ground.facts import Amount, Dose, Order, Rate
from dosing.ground.language import gettext as _
from dosing.ground.titration import Titration

STEPPED = ("too_soon", "above_most")  # what a rate outside the order is told as


def weighed(question: Question, order: Order | None) -> Order | None:
    """The order with its rates per kg as what they come to at the weight that is on record."""
    if order is None:
        return None
    titrate = order.titrate
    if titrate is not None:
        parts = {name: absolute(question, getattr(titrate, name)) for name in ("step", "most")}
        titrate = structs.replace(titrate, **parts)
    return structs.replace(order, amount=absolute(question, order.amount), titrate=titrate)


def covering(order: Order, *, new_rate: bool) -> Order:
    """The order as one for any rate up to its most, however many were set before: so it covers a new rate."""
    if order.titrate is None or not new_rate:
        return order
    return structs.replace(order, amount=order.titrate.most, times=1, given=0)


def findings(asked: Proposed, order: Order) -> list[Finding]:
    """What a new rate of the order's own infusion passes of it; a lower rate passes nothing but the most."""
    titrate = order.titrate
    if titrate is None or not asked.question.new_rate or order.state != "read_back":
        return []
    by = order.by or _("the physician")
    return [*_most(asked, order, titrate, by), *_rise(asked, order, titrate, by)]


def next_at(asked: Proposed, order: Order, found: list[Finding]) -> datetime | None:
    """From when the next step may be set: counted from the last rate where this one comes too soon, else from it."""
    if order.titrate is None:
        return None
    soon = any(each.code == "too_soon" and each.level != "caution" for each in found)
    since = _rates(_known(asked, order), asked)[1] if soon else None
    return (since.at if since else asked.proposal.at) + timedelta(minutes=order.titrate.every_min)


def _known(asked: Proposed, order: Order) -> Dose | None:
    return next((dose for dose in asked.question.bedside.doses if dose.id == order.intervention), None)


def _most(asked: Proposed, order: Order, titrate: Titration, by: str) -> Iterator[Finding]:
    most = rate_of(asked.question, titrate.most, order.concentration)
    if most is not None and most.units == asked.dose.units and asked.dose > most:
        dose, limit = text.apart_text(asked.shown(asked.dose), asked.shown(most))
        yield _finding(
            "above_most",
            _("{dose} is above the maximum ordered by {by}: {limit}", dose=dose, by=by, limit=limit),
            by,
            asked.shown(most),
        )


def _rise(asked: Proposed, order: Order, titrate: Titration, by: str) -> Iterator[Finding]:
    """A rise that comes too soon after the last rate, or is more than a step; the rate ordered first is no step."""
    known = _known(asked, order)
    before, since = _rates(known, asked)
    now = in_force(asked.question, known) if known and before else None
    if since is None or now is None or now.units != asked.dose.units or asked.dose <= now:
        return
    first = rate_of(asked.question, order.amount, order.concentration)
    if not order.given and first is not None and asked.dose <= first:
        return
    passed = (asked.proposal.at - since.at).total_seconds()
    if passed < titrate.every_min * 60 - asked.question.bedside.rules.pressure.grace_s:
        words = _(
            "ordered by {by} no sooner than {every_min} after the last rate",
            by=by,
            every_min=text.minutes_text(titrate.every_min),
        )
        yield _finding("too_soon", words, by, Amount(titrate.every_min, "min"))
    step = rate_of(asked.question, titrate.step, order.concentration)
    if step is not None and step.units == now.units and asked.dose > now + step:
        words = _("ordered by {by} to go up by {step} a step", by=by, step=text.amount_text(asked.shown(step)))
        yield _finding("above_guide", words, by, asked.shown(step))


def _rates(dose: Dose | None, asked: Proposed) -> tuple[Rate | None, Rate | None]:
    """The rate in force then, or before the pause, and the last entry of all: a pause counts as a rate."""
    told = [rate for rate in (dose.rates if dose else ()) if rate.at <= asked.proposal.at]
    ran = [rate for rate in told if rate.amount is not None]
    return (ran[-1] if ran else None), (told[-1] if told else None)


def _finding(code: str, words: str, by: str, limit: Amount) -> Finding:
    return Finding(code, words, _("order by {by}", by=by), limit, level_of(code))
