"""What a new weight says about what was ordered per kg, and about a rate that runs.

The pump goes on as it was set, so per kg it is another rate.

Doses of before and the checks that are kept stay as they were; an infusion that is beyond its limits by the new weight,
and was not by the old one, alarms.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from msgspec import convert
from msgspec.structs import replace

from consult import problems
from consult.case.checks import checked
from consult.case.decide import order_book
from consult.case.decide.asked import Decided, Known, alarm
from consult.case.dose import from_bag_in_hand, proposal_of
from consult.case.entries import OrderEntry
from consult.case.fold.ordered import APPROVED, READ_BACK
from consult.events import Event
from consult.state.check import Check, Finding
from consult.state.parts import Author, Given, Order
from dosing.check.findings import BEYOND
from dosing.check.infusion import set_for
from dosing.ground.facts import Facts, Patient, Proposal, Rate, Weight
from dosing.tell import set_for as told

TOO_MUCH = ("above_most", "above_hard_limit")


def rates_by(known: Known, patient: Patient, at: datetime) -> Decided:
    """The alarms of what runs at a rate that is too much for this patient as it is known now."""
    facts, happened = known.whole(at).facts, []
    for dose in _set_for_another(known, patient.weight):
        before = {each.code for each in _size(known, dose, facts, at)}
        news = [each for each in _size(known, dose, replace(facts, patient=patient), at) if each.code not in before]
        if news:
            words = told.told(_rate(dose), dose.concentration, patient.weight)
            happened.append(alarm(dose, [replace(each, text=f"{words}; {each.text}") for each in news], at))
    return Decided(happened=happened)


def orders_by(known: Known, patient: Patient, at: datetime, by: Author) -> Decided:
    """What becomes of the orders per kg that are decided and of which nothing is given yet.

    One that is not read back is voided. One that was, stands as it was ordered; as it comes to another volume or rate
    by now, it is read back anew. Where it is beyond more limits than its physician saw, it is voided as well.
    """
    happened: list[Event] = []
    for order in known.state.orders:
        per_kg = order.amount is not None and "/kg" in order.amount.unit
        if not per_kg or order.given or order.state not in (APPROVED, READ_BACK):
            continue
        check = _checked_anew(known, order, patient, at) if order.state == READ_BACK else None
        if check is None:
            happened.append(order_book.void(order, at, by))
        else:
            happened.append(order_book.set_back(replace(order, check=check), at, known.rules))
    return Decided(happened)


def _checked_anew(known: Known, order: Order, patient: Patient, at: datetime) -> Check | None:
    """The check of an order for the patient as known now; None where it is graver than the one it was decided by."""
    facts = replace(known.whole(at).facts, patient=patient)
    entry = from_bag_in_hand(convert(order, OrderEntry, from_attributes=True), facts, at, known.rules)
    try:
        check = checked(proposal_of(entry, at, new_rate=order.action == "change"), facts, known.rules)
    except problems.Invalid:
        return None
    before = {each.code for each in order.check.findings} if order.check else set[str]()
    return None if any(each.level in BEYOND and each.code not in before for each in check.findings) else check


def _set_for_another(known: Known, weight: Weight | None) -> Iterator[Given]:
    for dose in known.state.doses:
        runs = dose.status == "running" and not dose.in_error and dose.treatment in known.rules.treatments
        if weight and runs and dose.rates and told.told(_rate(dose), dose.concentration, weight):
            yield dose


def _size(known: Known, dose: Given, facts: Facts, at: datetime) -> list[Finding]:
    """What the rules find in the size of the rate for the weight in these facts."""
    amount = set_for(_rate(dose), facts.patient.weight)
    if amount is None:
        return []
    names = {name: getattr(dose, name) for name in ("treatment", "route", "concentration", "indication")}
    try:
        check = checked(Proposal(**names, amount=amount, at=at, new_rate=True), facts, known.rules)
    except problems.Invalid:  # a unit that is for adults alone, and by the new weight this is none
        return []
    return [each for each in check.findings if each.code in TOO_MUCH]


def _rate(dose: Given) -> Rate:
    return dose.rates[-1]
