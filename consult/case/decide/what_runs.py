"""Orders about what runs: which infusion they mean, which change carries them out, and when they are done."""

from __future__ import annotations

from datetime import datetime
from typing import TypeVar

from msgspec.structs import replace

from consult import events, problems
from consult.case.decide import order_book
from consult.case.decide.asked import Known
from consult.case.decide.order_book import GIVEN, WITHDRAWN, moved
from consult.case.dose import ENDS
from consult.case.entries import ChangeEntry, OrderEntry
from consult.case.fold.ordered import READ_BACK
from consult.case.order_words import BEGINS, BY_ITSELF, NEWER
from consult.clock import utc_seconds
from consult.state.check import Check, Finding
from consult.state.parts import Author, Given, Order
from dosing.check.findings import BEYOND, level_of
from dosing.check.titrated import STEPPED
from dosing.ground.language import gettext as _
from dosing.rules.plain import source_text
from dosing.rules.rule_set import RuleSet
from dosing.tell import read_back_match

Ordered = TypeVar("Ordered", OrderEntry, Order)


def meant(known: Known, order: OrderEntry | Order) -> Given | None:
    """What an order changes, holds or stops; None where it begins something. Raises Invalid where that does not run."""
    if order.action in BEGINS:
        if order.intervention is not None and isinstance(order, OrderEntry):
            raise problems.Invalid.at(
                "/intervention", _("This order starts something new: it cannot name what runs."), "not_about"
            )
        return None
    dose_id = str(order.intervention)
    if not known.state.runs(dose_id) or (dose := known.state.dose(dose_id)).in_error:
        raise problems.Invalid.at("/intervention", _("This is not running in this case."), "not_running")
    if dose.treatment != order.treatment or not order_book.same_name(dose.name, order.name):
        raise problems.Invalid.at(
            "/intervention", _("This is another drug: {dose}.", dose=dose.title), "other_treatment"
        )
    if order.action == "hold":
        require_rate(dose, "/action", _("order it stopped, and order a new one when it should continue"))
    return dose


def require_rate(dose: Given, pointer: str, instead: str) -> None:
    """Raise Invalid for a bolus, with what to do `instead`: its end, and what is left of it, follow from no pause."""
    if dose.amount is not None and not dose.rates:
        raise problems.Invalid.at(pointer, _("A bolus has no rate to hold: {instead}.", instead=instead), "no_rate")


def as_it_runs(order: Ordered, dose: Given | None) -> Ordered:
    """The order of a new rate with route and strength of what runs, where it states none."""
    if dose is None or order.action != "change":
        return order
    return replace(order, route=order.route or dose.route, concentration=order.concentration or dose.concentration)


def ordering(known: Known, change: ChangeEntry, was: Given, at: datetime) -> Order | None:
    """The order that a change names, else the one read back that asks for this very change; as it stood then."""
    if change.order is not None:
        order = order_book.named(known, change)
        stood = order and order_book.as_it_stood(order, at)
        return stood if stood and _is_about(stood, was) else None
    return _asked(known, change, was, at)


def _asked(known: Known, change: ChangeEntry, was: Given, at: datetime) -> Order | None:
    orders = order_book.of_treatment(known, was.treatment)
    stood = (order_book.as_it_stood(order, at) for order in orders if not order.titrate and _is_about(order, was))
    return next((order for order in stood if order.state == READ_BACK and _asks_for(known, order, change, was)), None)


def _is_about(order: Order, was: Given) -> bool:
    return order.treatment == was.treatment and order.intervention in (None, was.id)


def held_by(known: Known, change: ChangeEntry, was: Given) -> Order | None:
    """The order by which was held what a change lets run again; None where none held it."""
    if was.status != "held" or (change.status != "running" and change.amount is None):
        return None
    orders = order_book.of_treatment(known, was.treatment)
    held = (each for each in orders if each.action == "hold" and each.state == GIVEN and each.intervention == was.id)
    return next((each for each in held if was.changed_at in each.given_at), None)


def runs_again(held: Order, rules: RuleSet) -> Finding:
    """What a person must see of something that goes on although an order held it."""
    text = _("held by the order of {at}: it runs again by a new order", at=utc_seconds(held.requested_at))
    code = "order_not_read_back"
    return Finding(code=code, level=level_of(code), text=text, limit=None, source=source_text(rules.findings[code]))


def done_by(
    order: Order | None, known: Known, change: ChangeEntry, was: Given, check: Check | None, at: datetime, by: Author
) -> Order | None:
    """The order once the change has been made; None where that does not carry it out.

    One that lets the crew step the rate up counts the rates that it allows, and holds on; ended, it counts no more.
    """
    if order is None or order.state != READ_BACK:
        return None
    if order.titrate and known.state.order(order.id) is None:
        return None
    if order.titrate:
        beyond = check is None or any(each.code in STEPPED and each.level in BEYOND for each in check.findings)
        counted = replace(order, intervention=was.id, expires_at=None, given=order.given + 1)
        return None if beyond else replace(counted, given_at=(*order.given_at, at))
    if not _asks_for(known, order, change, was):
        return None
    return moved(replace(order, given=1, given_at=(at,)), GIVEN, at, by)


def _asks_for(known: Known, order: Order, change: ChangeEntry, was: Given) -> bool:
    """Whether the change is the one ordered: a pause or an end for hold, an end for stop, the very rate for change."""
    if order.action in ("hold", "stop"):
        return change.status in ENDS or (order.action == "hold" and change.status == "held")
    rate = was.amount if change.status == "running" else change.amount
    if order.action != "change" or rate is None or order.amount is None:
        return False
    weight, strength = known.state.patient.weight, change.concentration or was.concentration
    ordered = read_back_match.Ordered(amount=order.amount, concentration=strength, weight=weight)
    return read_back_match.runs_at(rate, ordered, known.rules.pump)


def ended_with(known: Known, dose_id: str, done: Order | None, at: datetime, by: Author) -> list[events.OrderEnded]:
    """What runs has ended: with it every open order about it but the one that this carried out."""
    left = [each for each in known.state.orders if each.intervention == dose_id and not (done and done.id == each.id)]
    return [_no_longer_runs(each, at, by) for each in left]


def never_ran(known: Known, dose_id: str, asked_for: Order | None, at: datetime, by: Author) -> list[events.OrderEnded]:
    """What ran was entered in error: with it every open order about it but the one by which it was begun."""
    left = [each for each in known.state.orders if each.intervention == dose_id]
    others = [each for each in left if asked_for is None or each.id != asked_for.id]
    reason = _("what it was about was entered in error")
    return [_ended(each, WITHDRAWN, reason, at, by) for each in others]


def _no_longer_runs(order: Order, at: datetime, by: Author) -> events.OrderEnded:
    stepped = order.titrate and order.given
    state, reason = GIVEN if stepped else WITHDRAWN, _("what it was about is no longer running")
    return _ended(order, state, reason, at, by)


def replaced_by(known: Known, order: Order, now: datetime, by: Author) -> list[events.OrderEnded]:
    """A newer order about what runs, once read back, ends the permission to step that up."""
    if order.intervention is None or order.action in BEGINS:
        return []
    before = [each for each in _stepping(known, order.intervention) if each.id != order.id]
    reason = _("replaced by a newer order {newer}", newer=NEWER[order.action])
    return [_ended(each, WITHDRAWN, reason, now, by) for each in before]


def _stepping(known: Known, dose_id: str) -> list[Order]:
    held = (each for each in known.state.orders if each.titrate and each.state == READ_BACK)
    return [each for each in held if each.intervention == dose_id]


def _ended(order: Order, state: str, reason: str, at: datetime, by: Author) -> events.OrderEnded:
    became = moved(order, state, at, by, step=BY_ITSELF, reason=reason)
    return events.OrderEnded(order=order.id, state=state, reason=reason, became=became)
