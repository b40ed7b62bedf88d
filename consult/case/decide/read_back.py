"""Read-back: the crew repeats drug, route and amount, or says what is in the hand; only a match goes on."""

from __future__ import annotations

import msgspec
from msgspec.structs import replace

from consult import events, problems
from consult.case.decide import order_book, what_runs
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.decide.order_book import moved
from consult.case.fold.ordered import APPROVED, READ_BACK
from consult.case.order_words import BEGINS, MATCHED
from consult.state.parts import Order, ReadBack, Said
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.tell import read_back_match, titration

IN_HAND = ("amount", "strength", "volume", "concentration", "rate")


def read_back(known: Known, asked: Asked[Said], order: Order) -> Decided:
    """Repeat an order: which fields differ, never the right value."""
    order_book.require(order, asked.now, APPROVED)
    if order.waiting_for:
        raise problems.WrongState(_("The order waits for a second physician: it cannot be read back yet."))
    said = asked.content
    _require_whole(said, order)
    if order.amount and not any(getattr(said, name) for name in IN_HAND):
        text = _("Enter either an amount, or strength and volume, or concentration and rate.")
        raise problems.Invalid.at("/amount", text, "one_of")
    differences = [*_different_names(said, order), *_different_acts(said, order)]
    came_to = None
    if order.amount:
        held, ordered = (
            msgspec.convert(said, read_back_match.Said, from_attributes=True),
            _ordered(known, order, order.amount),
        )
        came_to = read_back_match.comes_to(held, ordered)
        if not read_back_match.matches(held, ordered, known.rules.pump):
            differences.append("amount")
    matches = not differences
    as_sent = msgspec.json.decode(asked.sent, type=Said)
    became = replace(
        order,
        mismatch=not matches,
        misread_at=None if matches else asked.now,
        read_back_at=asked.now if matches else None,
        expires_at=None if matches and order.titrate and order.intervention else order.expires_at,
        read_back=ReadBack(matches=matches, differences=tuple(differences), said=as_sent, came_to=came_to),
    )
    state, step = (READ_BACK, MATCHED) if matches else (APPROVED, "misread")
    event = events.OrderReadBack(
        order=order.id,
        matches=matches,
        differences=tuple(differences),
        content=as_sent,
        came_to=came_to,
        became=moved(became, state, asked.now, asked.by, step=step),
    )
    return Decided([event, *(what_runs.replaced_by(known, order, asked.now, asked.by) if matches else ())])


def _require_whole(said: Said, order: Order) -> None:
    """Raise Invalid where a part that must be repeated was not: the route of what begins, else what to do with it."""
    part = "route" if order.action in BEGINS else "action"
    if getattr(order, part) and getattr(said, part) is None:
        raise problems.Invalid.at(f"/{part}", _("This must be read back too."), "required")
    if order.titrate and said.titrate is None:
        raise problems.Invalid.at("/titrate", _("An order with steps is read back as a whole."), "required")


def _different_acts(said: Said, order: Order) -> list[str]:
    found = [] if said.action in (None, order.action) else ["action"]
    return [*found, *titration.differences(said.titrate, order.titrate)]


def _different_names(said: Said, order: Order) -> list[str]:
    repeated = ("treatment", "route") if order.route and said.route else ("treatment",)
    differences = [name for name in repeated if getattr(said, name) != getattr(order, name)]
    if said.treatment == order.treatment and not order_book.same_name(said.name, order.name):
        differences.append("name")
    return differences


def _ordered(known: Known, order: Order, amount: Amount) -> read_back_match.Ordered:
    return read_back_match.Ordered(
        amount=amount,
        concentration=order.concentration,
        weight=known.state.patient.weight,
        treatment=known.rules.treatments.get(order.treatment),
    )
