"""The closed loop: asked, decided, withdrawn, not given."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

import msgspec
from msgspec import UNSET
from msgspec.structs import replace

from consult import events, problems
from consult.case import dose
from consult.case.card import MOST_SHOWN
from consult.case.checks import checked
from consult.case.decide import cases, cosigns, order_book, titration, what_runs
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.decide.by_name import of_no_rule
from consult.case.decide.cosigns import WITHOUT_AMOUNT
from consult.case.decide.order_book import DECLINED, NOT_GIVEN, WITHDRAWN, moved
from consult.case.dose import OTHER, from_bag_in_hand, proposal_of
from consult.case.entries import DecisionEntry, OrderEntry, ReasonEntry
from consult.case.fold.ordered import APPROVED, READ_BACK, REQUESTED
from consult.case.order_words import ACTIONS
from consult.state.check import Check
from consult.state.parts import Author, Given, Order, Step
from dosing.check.findings import BEYOND
from dosing.ground.language import gettext as _
from dosing.rules.rule_set import RuleSet

CLOCKS_DIFFER = timedelta(minutes=2)
MOST_OPEN = MOST_SHOWN // 2  # of requests, and of orders by physicians: together no more than a card shows
PLACED, ASKED_BACK = "placed", "asked back"
ASKED_MOST = timedelta(minutes=2)  # so long a question stops the clock (contract, "Orders"; common practice, no source)
MOST_QUESTIONS = 20  # about one request: far beyond what is asked, so that no record grows without end


def request_order(known: Known, asked: Asked[OrderEntry]) -> Decided:
    """Ask for an order as a crew, or give one as a physician; raises HardLimit beyond a hard limit."""
    order_book.require_open_case(known.state)
    placed, runs = asked.by.is_physician, what_runs.meant(known, asked.content)
    _require_few(known.state.orders, placed=placed)
    entry = what_runs.as_it_runs(asked.content, runs)
    titration.require_sense(known, entry, runs)
    check = checked_order(known, entry, entry.action, entry.reason or "", asked.at, asked.now, placed=placed)
    order = _order(known, asked, entry, check)
    order = approved(order, asked.now, asked.by, known.rules) if placed else replace(order, waiting_since=asked.now)
    kind = events.OrderPlaced if placed else events.OrderRequested
    event = kind(id=asked.id, content=asked.sent, shown=order.shown, check=check, became=order)
    return Decided([event, *(takes_control(known, asked.by) if placed else ())])


def _require_few(orders: Iterable[Order], *, placed: bool) -> None:
    """Raise WrongState where as many are open as a card shows: what waits for a person must never be hidden.

    Crews and physicians have half of it each, so that neither keeps the other from asking or ordering.
    """
    alike = [each for each in orders if (each.steps[0].step == PLACED) == placed]
    if len(alike) >= MOST_OPEN:
        words = (
            _("{most} orders by physicians are open in this case: end one of them before the next.", most=MOST_OPEN)
            if placed
            else _("{most} requests are open in this case: end one of them before the next.", most=MOST_OPEN)
        )
        raise problems.WrongState(words)


def takes_control(known: Known, by: Author) -> list[events.CaseAccepted]:
    """Whoever orders or decides takes control of the case where nobody has."""
    return [] if known.state.physician else [cases.take_control(by)]


def _order(known: Known, asked: Asked[OrderEntry], entry: OrderEntry, check: Check | None) -> Order:
    placed, repeat = asked.by.is_physician, entry.repeat
    return Order(
        id=asked.id,
        case=known.state.id,
        state=APPROVED if placed else REQUESTED,
        treatment=entry.treatment,
        title=dose.title_of(entry, known.rules),
        shown=_shown(entry, known.rules, check),
        requested_by=asked.by.name,
        requested_at=asked.at,
        by=asked.by.name,
        action=entry.action,
        amount=entry.amount,
        route=entry.route or "",
        reason=entry.reason or "",
        name=entry.name,
        stock=entry.stock,
        concentration=entry.concentration,
        over_min=entry.over_min,
        gauge=entry.gauge,
        product=entry.product,
        indication=entry.indication,
        repeat=repeat,
        times=repeat.times if repeat else 1,
        every_min=repeat.every_min if repeat else None,
        hard_limit_reason=entry.hard_limit_reason,
        titrate=entry.titrate,
        intervention=str(entry.intervention) if entry.intervention else None,
        check=check,
        steps=(Step(step=PLACED if placed else "requested", at=asked.at, by=asked.by.name),),
    )


def _shown(entry: OrderEntry, rules: RuleSet, check: Check | None) -> str:
    """What is ordered on one line, with its verb where that is not to give: ``stop norepinephrine infusion``."""
    return f"{ACTIONS[entry.action]}{dose.shown(entry, rules, check)}"


def approved(order: Order, now: datetime, by: Author, rules: RuleSet) -> Order:
    """The order once it is approved: by whom, when, and until when it holds."""
    allowed = replace(
        order,
        by=by.name,
        decided_by=by.name,
        decided_at=now,
        approved_at=now,
        decider=by.id,
        seen_at=order.seen_at or now,
        waiting_since=None,
        paused_until=None,
        expires_at=order_book.expires_at(order, now, rules),
    )
    return cosigns.waiting(allowed, now, rules)


def checked_order(
    known: Known, entry: OrderEntry, action: str, reason: str, at: datetime, now: datetime, *, placed: bool
) -> Check | None:
    """Check what is ordered; beyond a hard limit it is refused unless a second physician is asked for.

    Beyond a standing limit a physician says why.
    """
    beyond = entry.hard_limit_reason
    if action in WITHOUT_AMOUNT or entry.treatment == OTHER:
        cosigns.require_within(None, beyond, placed=placed)
    if action in WITHOUT_AMOUNT:
        return None
    if entry.treatment == OTHER:
        return of_no_rule(entry, known.rules)
    require_in_case(known.state.opened_at, at, now)
    facts, new_rate = known.whole(at).facts, action == "change"
    entry = from_bag_in_hand(entry, facts, at, known.rules)
    check = gravest = checked(proposal_of(entry, at, new_rate=new_rate), facts, known.rules)
    pointer, most = "/amount", titration.at_most(entry)
    if most is not None and check.verdict != "over_hard_limit":
        gravest, pointer = checked(proposal_of(most, at, new_rate=True), facts, known.rules), "/titrate/most"
    cosigns.require_within(gravest, beyond, placed=placed, pointer=pointer)
    if placed and {check.verdict, gravest.verdict} & {*BEYOND} and not (reason or beyond):
        raise problems.Invalid.at("/reason", _("An order over a standing limit needs a reason."), "required")
    return titration.with_most(check, gravest, most.amount) if most is not None and check and gravest else check


def require_in_case(opened_at: datetime, at: datetime, now: datetime) -> None:
    """Raise Invalid where a time lies before the case.

    A case just opened by a clock that is ahead is no reason to refuse: what lies within 2 minutes counts as now.
    """
    require_since(opened_at, at, now, _("This time is before the case was opened."))


def require_since(begun_at: datetime, at: datetime, now: datetime, words: str) -> None:
    """Raise Invalid with these words where a time lies before what it is about, by more than clocks differ."""
    if at < min(begun_at, now - CLOCKS_DIFFER):
        raise problems.Invalid.at("/at", words, "before_case")


def decide(known: Known, asked: Asked[DecisionEntry], order: Order) -> Decided:
    """Approve a request, approve it changed, ask back, or decline."""
    order_book.require_open_case(known.state)
    order_book.require(order, asked.now, REQUESTED)
    order = replace(order, seen_at=order.seen_at or asked.now)
    steps = {"approve": _approve, "change": _approve, "ask": _ask, "decline": _decline}
    became = steps[asked.content.decision](known, asked, order)
    event = events.OrderDecided(
        order=order.id,
        decision=asked.content.decision,
        content=asked.sent,
        shown=became.shown,
        asked_for=became.asked_for or "",
        became=became,
    )
    return Decided([event, *takes_control(known, asked.by)])


def _approve(known: Known, asked: Asked[DecisionEntry], order: Order) -> Order:
    said, changes = asked.content, asked.content.decision == "change"
    reason = said.reason or order.reason
    runs = _still_runs(known, order)
    wanted = replace(
        order,
        amount=said.amount or order.amount,
        titrate=order.titrate if said.titrate is UNSET else said.titrate,
        route=said.route or order.route,
        repeat=said.repeat or order.repeat,
        times=said.repeat.times if said.repeat else order.times,
        every_min=said.repeat.every_min if said.repeat else order.every_min,
        decision_reason=said.reason,
        hard_limit_reason=said.hard_limit_reason,
    )
    entry = msgspec.convert(wanted, OrderEntry, from_attributes=True)
    titration.require_sense(known, entry, runs)
    check = checked_order(known, entry, order.action, reason, asked.now, asked.now, placed=True)
    wanted = replace(wanted, check=check, shown=_shown(entry, known.rules, check))
    if said.amount or said.route or said.repeat or said.titrate is not UNSET:
        wanted = replace(wanted, asked_for=order.shown)
    wanted = approved(wanted, asked.now, asked.by, known.rules)
    return moved(wanted, APPROVED, asked.now, asked.by, step="changed" if changes else "approved")


def _still_runs(known: Known, order: Order) -> Given | None:
    """What the order is about; raises WrongState where that has ended since it was asked for."""
    try:
        return what_runs.meant(known, order)
    except problems.Invalid as ended:
        raise problems.WrongState(_("What this request is about is no longer running.")) from ended


def _ask(known: Known, asked: Asked[DecisionEntry], order: Order) -> Order:
    if sum(each.step == ASKED_BACK for each in order.steps) >= MOST_QUESTIONS:
        words = _(
            "This request has had {count} queries: approve, change or decline it.",
            count=MOST_QUESTIONS,
        )
        raise problems.WrongState(words)
    until = asked.now + ASKED_MOST
    question = replace(order, question=asked.content.text, answer=None, waiting_since=None, paused_until=until)
    return moved(question, REQUESTED, asked.now, asked.by, step=ASKED_BACK, text=asked.content.text)


def _decline(known: Known, asked: Asked[DecisionEntry], order: Order) -> Order:
    reason = asked.content.reason
    declined = replace(order, decided_by=asked.by.name, decided_at=asked.now, decision_reason=reason)
    return moved(declined, DECLINED, asked.now, asked.by, reason=reason)


def withdraw(known: Known, asked: Asked[ReasonEntry], order: Order) -> Decided:
    """Take an order back: the crew while it is a request, a physician always."""
    order_book.require(order, asked.now, REQUESTED, APPROVED, READ_BACK)
    if asked.by.is_crew and order.state != REQUESTED:
        raise problems.WrongState(
            _("Once it is decided, only a physician can withdraw an order: record it as not given.")
        )
    return _end(asked, order, WITHDRAWN)


def not_given(known: Known, asked: Asked[ReasonEntry], order: Order) -> Decided:
    """Record that an order was not carried out, and why."""
    order_book.require(order, asked.now, APPROVED, READ_BACK)
    return _end(asked, order, NOT_GIVEN)


def _end(asked: Asked[ReasonEntry], order: Order, state: str) -> Decided:
    ended = moved(order, state, asked.now, asked.by, reason=asked.content.reason)
    event = events.OrderEnded(order=order.id, state=state, reason=asked.content.reason, became=ended)
    return Decided([event])
