"""What has become known of the patient since: about what was ordered before, and about what runs.

Doses of before and the checks that are kept stay as they were, and a pump goes on as it was set. An order covers what
its physician saw: where more lies beyond the limits by now, it is to be decided again. What runs and would want an
order for a reason that nobody knew alarms, and keeps the reason beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from msgspec import convert
from msgspec.structs import replace

from consult import problems
from consult.case.checks import checked
from consult.case.decide import order_book
from consult.case.decide.asked import Known, alarm
from consult.case.dose import from_bag_in_hand, proposal_of
from consult.case.entries import OrderEntry
from consult.case.fold.ordered import APPROVED, READ_BACK, REQUESTED
from consult.clock import utc
from consult.events import Event, OrderRestated
from consult.state.check import Check, Finding, KnownSince
from consult.state.parts import Author, Given, Order
from dosing.check.infusion import last_set, set_for
from dosing.check.known_since import alike, news
from dosing.ground.facts import Facts, Patient, Proposal
from dosing.ground.language import gettext as _
from dosing.tell import set_for as told
from dosing.watch.causes import Cause

MOST_TOLD = 500  # characters of what became known


@dataclass(frozen=True, slots=True)
class Learned:
    """The case before and after something became known of the patient, and when that was."""

    known: Known
    before: Facts
    after: Facts
    at: datetime

    @property
    def weighed(self) -> bool:
        """Whether the weight is another one."""
        return self.before.patient.weight != self.after.patient.weight


def learned(known: Known, patient: Patient, impression: str, complaint: str, at: datetime) -> Learned | None:
    """What has become known; None where nothing has that a check looks at."""
    state = known.state
    if (patient, impression, complaint) == (state.patient, state.impression, state.complaint):
        return None
    began = [dose.given_at for dose in state.doses if dose.goes_on]
    whole = known.whole(min([at, *began]))
    after = replace(whole.facts, patient=patient, impression=impression, complaint=complaint)
    return Learned(whole, whole.facts, after, at)


def about_orders(case: Learned, by: Author) -> list[Event]:
    """What becomes of the orders.

    One per kg of which nothing is given is voided by another weight; one that was read back comes to another volume or
    rate, and is read back anew. What is stepped up already goes on: it runs, and each step is checked. What such an
    order comes to by another weight is told anew; a request is checked anew.
    """
    return [event for order in case.known.state.orders if (event := _about_order(case, order, by))]


def _about_order(case: Learned, order: Order, by: Author) -> Event | None:
    now, goes_on = _checked(case, order, case.after), order.titrate and order.given
    by_weight = case.weighed and _per_kg(order) and not order.given
    if order.state in (APPROVED, READ_BACK) and not goes_on:
        if by_weight and (now is None or order.state == APPROVED):
            return order_book.void(order, case.at, by)
        if since := _beyond(case, order, now):
            return order_book.decide_again(order, "; ".join(since)[:MOST_TOLD], case.at)
        if by_weight:
            return order_book.set_back(replace(order, check=now), case.at, case.known.rules)
    return _restated(order, now)


def _restated(order: Order, now: Check | None) -> Event | None:
    """A request is checked anew; of what is decided the check stays, but for what it comes to by another weight."""
    then = order.check
    if now is None or then is None:
        return None
    decided = order.state != REQUESTED or order.known_since
    anew = replace(then, give=now.give, weight_used=now.weight_used) if decided else now
    if (anew.give, anew.findings) == (then.give, then.findings):
        return None
    return OrderRestated(order=order.id, shown=order.shown, became=replace(order, check=anew))


def _per_kg(order: Order) -> bool:
    return order.amount is not None and "/kg" in order.amount.unit


def _beyond(case: Learned, order: Order, now: Check | None) -> list[str]:
    """What lies beyond the limits by what is known now, did not before it, and is nothing that the physician saw."""
    if now is None or order.check is None:
        return []
    before = _checked(case, order, case.before)
    seen = (*order.check.beyond, *(before.beyond if before else ()))
    return [each.text for each in news(now.findings, seen)]


def _checked(case: Learned, order: Order, facts: Facts) -> Check | None:
    """The check of an order by these facts; None where it names no amount, or the rules make no sense of it."""
    if order.amount is None or order.treatment not in case.known.rules.treatments:
        return None
    entry = from_bag_in_hand(convert(order, OrderEntry, from_attributes=True), facts, case.at, case.known.rules)
    return _check(case, proposal_of(entry, case.at, new_rate=order.action == "change"), facts)


def about_what_runs(case: Learned) -> tuple[dict[str, tuple[KnownSince, ...]], list[Cause]]:
    """By dose what became known while it runs, where that is another than before; and the alarms of what is new."""
    marks, causes = dict[str, tuple[KnownSince, ...]](), list[Cause]()
    for dose in case.known.state.doses:
        if not dose.goes_on or dose.in_error or dose.treatment not in case.known.rules.treatments:
            continue
        now = _running(case, dose, case.after)
        new = news(now, _running(case, dose, case.before))
        stay = [each for each in dose.known_since if any(alike(one, each) for one in now)]
        marked = (*stay, *(KnownSince(code=e.code, text=e.text, limit=e.limit, at=case.at) for e in new))
        if marked != dose.known_since:
            marks[dose.id] = marked
        if new and dose.status == "running":
            causes.append(alarm(dose, [replace(new[0], text=f"{_lead(case, dose)}{new[0].text}"), *new[1:]], case.at))
    return marks, causes


def _lead(case: Learned, dose: Given) -> str:
    """What its rate is for another weight; else since when it is known, and that it runs."""
    rate, weight = last_set(dose), case.after.patient.weight
    other = told.told(rate, dose.concentration, weight) if case.weighed and rate else ""
    since = _("running, and known only since {time}: ", time=utc(case.at))
    return f"{other}; " if other else since


def _running(case: Learned, dose: Given, facts: Facts) -> list[Finding]:
    """What the rules find in what runs: in its rate, as one that is set now; in a bolus, as when it was begun."""
    rate = last_set(dose)
    amount = set_for(rate, facts.patient.weight) if rate else dose.amount
    if amount is None:
        return []
    if not dose.rates:
        facts = replace(facts, doses=tuple(each for each in facts.doses if each.id != dose.id))
    how = ("treatment", "route", "concentration", "stock", "indication", "product", "over_min")
    names = {name: getattr(dose, name) for name in how}
    at, new_rate = (case.at, True) if dose.rates else (dose.given_at, False)
    check = _check(case, Proposal(**names, amount=amount, at=at, new_rate=new_rate), facts)
    return [each for each in check.beyond if each.code != "weight_unknown"] if check else []


def _check(case: Learned, proposal: Proposal, facts: Facts) -> Check | None:
    """The check; None where the rules make no sense of it, as of a unit for adults alone by the weight of a child."""
    try:
        return checked(proposal, facts, case.known.rules)
    except problems.Invalid:
        return None
