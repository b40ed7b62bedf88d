"""Orders that need a second physician: beyond a hard limit, or where the rule set asks for one."""

from __future__ import annotations

from datetime import datetime

from msgspec.structs import replace

from consult import events, problems
from consult.case import order_words
from consult.case.decide import order_book
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.decide.order_book import moved
from consult.case.entries import ReasonEntry
from consult.case.fold.ordered import APPROVED
from consult.state.check import Check
from consult.state.parts import COSIGN, Order
from dosing.check.allergies import ELECTROLYTE, class_elsewhere
from dosing.ground.language import gettext as _
from dosing.rules.rule_set import RuleSet

WITHOUT_AMOUNT = ("hold", "stop")
HARD_AMOUNT = "above_hard_limit"  # what a second physician can pass: never a wrong route, strength, time or phase


def require_within(check: Check | None, reason: str | None, *, placed: bool, pointer: str = "/amount") -> None:
    """Raise HardLimit beyond a hard limit, unless a physician says why and it is the amount alone.

    Raises Invalid for such a reason where nothing lies beyond one, so that none is sent along by habit.
    """
    hard = [each for each in check.findings if each.level == "over_hard_limit"] if check else []
    if reason is not None and not (hard and placed):
        why = (
            _("Nothing here is over a hard limit: leave this reason out.")
            if placed
            else _("Only a physician can order over a hard limit.")
        )
        raise problems.Invalid.at("/hard_limit_reason", why, "not_beyond")
    never = [each for each in hard if each.code != HARD_AMOUNT]
    if hard and (reason is None or never):
        beyond = "; ".join(each.text for each in (never if reason else hard))
        raise problems.HardLimit(beyond, [{"pointer": pointer, "detail": beyond, "code": "hard_limit"}])


def waiting(order: Order, now: datetime, rules: RuleSet) -> Order:
    """An order just approved; where it needs a second physician, as a concentrated electrolyte does, it waits."""
    known = order.treatment in rules.treatments and order.action not in WITHOUT_AMOUNT
    asks = known and rules.treatment(order.treatment, order.indication).cosign is not None
    if order.name and order.action not in WITHOUT_AMOUNT:
        asks = class_elsewhere(order.name, rules) == ELECTROLYTE
    if not (asks or order.hard_limit_reason):
        return order
    return replace(order, waiting_for=COSIGN, waiting_since=now)


def cosign(known: Known, asked: Asked[ReasonEntry], order: Order, *, same_person: bool) -> Decided:
    """Co-sign an order as the second physician; raises Forbidden for who decided it, under whatever role."""
    order_book.require(order, asked.now, APPROVED)
    if order.waiting_for != COSIGN:
        raise problems.WrongState(
            _("The order was already co-signed by {by}.", by=order.cosigned_by)
            if order.cosigned_by
            else _("The order needs no second physician.")
        )
    if same_person:
        raise problems.Forbidden(_("You decided this order: another physician must co-sign it."))
    reason = asked.content.reason
    signed_order = replace(
        order,
        waiting_for=None,
        waiting_since=None,
        cosigned_by=asked.by.name,
        cosigned_at=asked.now,
        cosign_reason=reason,
        seen_at=order.seen_at or asked.now,
        expires_at=order_book.expires_at(order, asked.now, known.rules),
    )
    became = moved(signed_order, APPROVED, asked.now, asked.by, step=order_words.COSIGNED, reason=reason)
    return Decided([events.OrderCosigned(order=order.id, shown=order.shown, reason=reason, became=became)])
