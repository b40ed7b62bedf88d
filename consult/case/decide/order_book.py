"""The book of orders of one case: finding one, moving it on, and what a dose means for it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from msgspec.structs import replace

from consult import events, problems
from consult.case import order_words
from consult.case.decide.asked import ORDER_NOT_GIVEN, Decided, Ended, Known
from consult.case.dose import OTHER, proposal_of
from consult.case.entries import ChangeEntry, CheckEntry, DoseEntry
from consult.case.fold.ordered import APPROVED, OPEN, READ_BACK, REQUESTED
from consult.clock import utc_seconds
from consult.state.case import HANDED_OVER, CaseState
from consult.state.case import OPEN as CASE_OPEN
from consult.state.parts import DECIDE_AGAIN, SET_BACK, Author, Order, Step
from dosing.check import limits
from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.rules.rule_set import RuleSet

GIVEN, DECLINED, WITHDRAWN, NOT_GIVEN, EXPIRED, VOIDED = (
    "given",
    "declined",
    "withdrawn",
    "not_given",
    "expired",
    "voided",
)
HELD_BEFORE = (EXPIRED, WITHDRAWN, NOT_GIVEN)  # ends that an order read back can come to
CASE_ENDED = _("case ended")
WEIGHT_CHANGED = _("the weight was changed")
GRACE = timedelta(seconds=15)


def named(known: Known, entry: DoseEntry | ChangeEntry | CheckEntry) -> Order | None:
    """The order that an entry names, open or not; raises Invalid where this case has none with that id."""
    if entry.order is None:
        return None
    order = known.state.order(str(entry.order)) or known.past.order(str(entry.order))
    if order is None:
        raise problems.Invalid.at("/order", _("This case has no such order."), "not_found")
    return order


def as_it_stood(order: Order, at: datetime) -> Order:
    """The order as it stood when a dose was given, however late that is told: what ended since held until then."""
    in_time = order.expires_at is None or at <= order.expires_at
    if order.state == READ_BACK:
        return order if in_time else _run_out(order)
    if _held_until_set_back(order, at):
        return replace(order, state=READ_BACK)
    ends = (*HELD_BEFORE, GIVEN) if order.titrate else HELD_BEFORE
    stood = order.state in ends and order.read_back_at and at <= order_words.last_step(order).at
    return replace(order, state=READ_BACK) if in_time and stood else order


def _held_until_set_back(order: Order, at: datetime) -> bool:
    """Whether a dose, told late, was given after a read-back of an order that was set back only afterward."""
    matched = order_words.MATCHED
    moves = (each for each in order.steps if each.step in (matched, SET_BACK, DECIDE_AGAIN))
    before = [each.step for each in moves if each.at < at or (each.at == at and each.step == matched)]
    return order.state in OPEN and before[-1:] == [matched]


def _run_out(order: Order) -> Order:
    """An order past its time, before the sweep has come to write that down."""
    step = Step(step="expired", at=order.expires_at or order.requested_at, by=None)
    return replace(order, state=EXPIRED, steps=(*order.steps, step))


def _carries_out(known: Known, order: Order, entry: DoseEntry) -> bool:
    """Whether a dose is one that was ordered: treatment and route, and no more, however it is stated."""
    if order.treatment != entry.treatment:
        return False
    if entry.treatment != OTHER:
        proposal = proposal_of(entry, entry.given_at)
        return limits.carries_out(proposal, known.facts, known.rules, order.for_rules())
    by = order.route in ("", entry.route) and same_name(order.name, entry.name)
    return by and not (order.amount and entry.amount and _more(entry.amount, order.amount))


def _more(amount: Amount, ordered: Amount) -> bool:
    try:
        given, most = units.quantity(amount), units.quantity(ordered)
    except units.WrongUnit:
        return True
    return given.units != most.units or bool(given.magnitude > most.magnitude)


def same_name(one: str | None, other: str | None) -> bool:
    """Whether two entries name the same drug that the rule set lacks; by value, not by spaces or capitals."""
    first, second = (" ".join((name or "").casefold().split()) for name in (one, other))
    return first == second


def counted(known: Known, order: Order, entry: DoseEntry, by: Author, stood: Order, dose_id: str) -> Order | None:
    """The order with a dose that was given as ordered; it is given once all its doses are. None where it counts not.

    `stood` is the order as it stood then: one that somebody ended since, or that was set back, stays so; one that ran
    out goes on. One that lets the crew step up what it started goes on with it, and runs out no more.
    """
    if stood.state != READ_BACK or not _carries_out(known, stood, entry) or _too_soon(stood, entry.given_at):
        return None
    more = replace(stood, given=stood.given + 1, given_at=(*stood.given_at, entry.given_at))
    if more.titrate:
        ended = order.state in (WITHDRAWN, NOT_GIVEN)
        state = order.state if ended else READ_BACK
        return replace(more, state=state, intervention=dose_id, expires_at=None)
    if more.given >= more.times:
        return moved(more, GIVEN, entry.given_at, by)
    if order.state in (WITHDRAWN, NOT_GIVEN, REQUESTED, APPROVED):
        return replace(more, state=order.state)
    return replace(more, expires_at=expires_at(more, entry.given_at, known.rules))


def told_late(order: Order) -> Ended:
    """An order that has run out was carried out in time after all."""
    return Ended(ORDER_NOT_GIVEN, order.id, _("carried out in time, reported late"))


def uncounted(known: Known, order: Order | None, given_at: datetime, by: Author, now: datetime) -> Order | None:
    """The order without a dose entered in error: it is to be given again, while it holds. None: it was not counted."""
    if order is None or given_at not in order.given_at:
        return None
    if order.titrate and order.state == READ_BACK:
        again = replace(order, given=0, given_at=(), intervention=None)
        return replace(again, expires_at=expires_at(again, now, known.rules))
    left = [*order.given_at]
    left.remove(given_at)
    fewer = replace(order, given=len(left), given_at=tuple(left))
    if order.state == GIVEN and known.state.state != CASE_OPEN:
        return moved(fewer, WITHDRAWN, now, by, reason=CASE_ENDED)
    if order.state == GIVEN:
        return moved(fewer, READ_BACK, now, by, step="dose entered in error")
    return fewer


def of_treatment(known: Known, treatment: str) -> tuple[Order, ...]:
    """The orders of a treatment that are open, were carried out, or held until they ended."""
    still_open = (order for order in known.state.orders if order.treatment == treatment)
    return (*still_open, *known.past.ended_orders(treatment, (*HELD_BEFORE, GIVEN)))


def in_force(orders: Iterable[Order], at: datetime) -> Order | None:
    """The newest of these orders that names an amount, was read back by then, and holds or was carried out."""
    held = (each for each in orders if each.state in (READ_BACK, GIVEN) and each.amount)
    known_then = [each for each in held if each.read_back_at and each.read_back_at <= at]
    return max(known_then, key=lambda order: order.requested_at, default=None)


def _too_soon(order: Order, at: datetime) -> bool:
    if not order.every_min or not order.given_at:
        return False
    return timedelta(0) <= at - max(order.given_at) < timedelta(minutes=order.every_min) - GRACE


def expires_at(order: Order, since: datetime, rules: RuleSet) -> datetime:
    """When an order ends by itself: a single dose soon, a series later, counted from the last step or dose."""
    minutes = rules.watch.order_single_min if order.times <= 1 else rules.watch.order_repeat_min
    return since + timedelta(minutes=minutes)


def moved(
    order: Order,
    state: str,
    at: datetime,
    by: Author | None,
    *,
    step: str = "",
    reason: str | None = None,
    text: str = "",
) -> Order:
    """An order in its new state, with the step written down: what, when, who."""
    taken = Step(step=step or state, at=at, by=by.name if by else None, reason=reason, text=text)
    return replace(order, state=state, steps=(*order.steps, taken))


def require(order: Order, now: datetime, *states: str) -> None:
    """Raise WrongState where the order is in none of the states, or has run out.

    That an order has run out holds from its time on, not from when the sweep comes to write it down.
    """
    if order.state not in states:
        words = order_words.sentence(order)
        told = f"{words[0].upper()}{words[1:]}"
        raise problems.WrongState(
            _("{order}: nobody has decided on it yet.", order=told) if order.state == REQUESTED else f"{told}."
        )
    if order.expires_at and order.expires_at < now:
        raise problems.WrongState(_("The order expired at {time}.", time=utc_seconds(order.expires_at)))


def require_open_case(state: CaseState) -> None:
    """Raise WrongState where the case has ended: only what was done before is still taken."""
    if state.state != CASE_OPEN:
        raise problems.WrongState(
            _(
                "The case was {how}: nothing more can be ordered or decided in it.",
                how=ended_words(state),
            )
        )


def ended_words(state: CaseState) -> str:
    """How and when a case ended: ``closed at 12:04:10 UTC``."""
    how = _("handed over") if state.state == HANDED_OVER else _("closed")
    return _("{ended} at {time}", ended=how, time=utc_seconds(state.ended_at)) if state.ended_at else how


def decide_again(order: Order, known_since: str, now: datetime) -> events.OrderSetBack:
    """What has become known since lies beyond what its physician saw: the order is one to be decided, with its reason.

    It keeps the check of its decision, by which a dose of before is judged that is told late.
    """
    again = replace(
        order,
        waiting_since=now,
        paused_until=None,
        seen_at=None,
        question=None,
        answer=None,
        waiting_for=None,
        hard_limit_reason=None,
        cosigned_by=None,
        cosigned_at=None,
        cosign_reason=None,
        expires_at=None,
        mismatch=False,
        misread_at=None,
        read_back=None,
        read_back_at=None,
    )
    became = moved(again, REQUESTED, now, None, step=DECIDE_AGAIN, reason=known_since)
    return events.OrderSetBack(order=order.id, shown=order.shown, reason=known_since, became=became)


def void(order: Order, now: datetime, by: Author) -> events.OrderEnded:
    """The weight has changed: an order per kg that is not read back must be made anew."""
    return _ended(order, VOIDED, WEIGHT_CHANGED, now, by)


def set_back(order: Order, now: datetime, rules: RuleSet) -> events.OrderSetBack:
    """The weight has changed: an order per kg that was read back, and of which nothing is given, is read back anew."""
    until = order.expires_at or expires_at(order, now, rules)
    again = replace(order, read_back=None, read_back_at=None, expires_at=until)
    became = moved(again, APPROVED, now, None, step=SET_BACK, reason=WEIGHT_CHANGED)
    return events.OrderSetBack(order=order.id, shown=order.shown, reason=WEIGHT_CHANGED, became=became)


def withdraw_open(orders: Iterable[Order], now: datetime, by: Author) -> Decided:
    """The case ends: what was asked or ordered in it and is not carried out ends with it."""
    return Decided([_ended(each, WITHDRAWN, CASE_ENDED, now, by) for each in orders])


def _ended(order: Order, state: str, reason: str, now: datetime, by: Author) -> events.OrderEnded:
    ended = moved(order, state, now, by, reason=reason)
    return events.OrderEnded(order=order.id, state=state, reason=reason, became=ended)
