"""An order that lets the crew step a rate up: whether it makes sense, and what its most comes to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeVar

from msgspec.structs import replace

from consult import problems
from consult.case.decide.asked import Known
from consult.case.dose import OTHER
from consult.case.entries import CheckEntry, OrderEntry
from consult.state.check import Check
from consult.state.parts import Given
from dosing.check.findings import LEVELS
from dosing.check.infusion import restated
from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text

GOALS = {"map": (40, 130), "sbp": (60, 220)}  # as plausible as those of a case: contract, "goal"
PARTS = ("step", "most", "call_at")


@dataclass(frozen=True, slots=True)
class _Fault:
    at: str
    words: str
    code: str


def require_sense(known: Known, order: OrderEntry, runs: Given | None) -> None:
    """Raise Invalid with a pointer for each fault, where a titration makes none; `runs` is what it moves."""
    if order.titrate is None:
        return
    faults = list(_faults(known, order, runs))
    if faults:
        errors = [problems.FieldError(pointer=each.at, detail=each.words, code=each.code) for each in faults]
        raise problems.Invalid(faults[0].words, errors)


def _faults(known: Known, order: OrderEntry, runs: Given | None) -> Iterator[_Fault]:
    treatment, titrate = known.rules.treatments.get(order.treatment), order.titrate
    if titrate is None:
        return
    if order.action not in ("start", "change") or order.amount is None:
        yield _Fault("/titrate", _("The action “{action}” has no steps.", action=order.action), "not_running")
        return
    if (treatment and treatment.form != "infusion") or "/" not in order.amount.unit.replace("/kg", ""):
        yield _Fault("/titrate", _("Only a rate can have steps."), "no_rate")
        return
    if order.repeat is not None:
        yield _Fault("/repeat", _("An order with steps has no repeat doses."), "not_titrated")
    least, most = GOALS[titrate.goal.measure]
    if not least <= titrate.goal.floor <= most:
        yield _Fault(
            "/titrate/goal/floor", _("Must be from {least} to {most} mmHg.", least=least, most=most), "out_of_range"
        )
    yield from _rates(known, order, runs)


def _rates(known: Known, order: OrderEntry, runs: Given | None) -> Iterator[_Fault]:
    """Steps of another kind, a most below the rate, a call above the most."""
    stated = {name: getattr(order.titrate, name) for name in PARTS}
    rates: dict[str, float] = {}
    for name, amount in stated.items():
        if amount is not None and (rate := _alike(known, order, amount)) is not None:
            rates[name] = rate
        elif amount is not None:
            unit = order.amount.unit if order.amount else ""
            yield _Fault(
                f"/titrate/{name}",
                _("{unit} is not a rate like {ordered}.", unit=amount.unit, ordered=unit),
                "wrong_kind",
            )
    rates_now = (_alike(known, order, order.amount), _alike(known, order, runs.amount if runs else None))
    now = max(filter(None, rates_now))
    if "most" in rates and rates["most"] < now:
        yield _Fault("/titrate/most", _("The maximum is below the starting rate."), "below_rate")
    if "call_at" in rates and "most" in rates and rates["call_at"] > rates["most"]:
        yield _Fault(
            "/titrate/call_at", _("The rate to call at is above the maximum: no step reaches it."), "above_most"
        )


def _alike(known: Known, order: OrderEntry, amount: Amount | None) -> float | None:
    """A rate in the unit of the order's own; None where it is of another kind."""
    if amount is None or order.amount is None:
        return None
    if amount.unit == order.amount.unit:
        return amount.value
    try:
        return restated(amount, order.amount.unit, known.state.patient.weight, order.concentration).value
    except units.WrongUnit:
        return None


Stepped = TypeVar("Stepped", OrderEntry, CheckEntry)


def at_most(order: Stepped) -> Stepped | None:
    """The order as one for the most that it leads to; None where nothing is stepped up or no rule knows the drug."""
    if order.titrate is None or order.treatment == OTHER:
        return None
    return replace(order, amount=order.titrate.most, titrate=None)


def with_most(check: Check, leads_to: Check, most: Amount | None) -> Check:
    """The check of the first rate with what is found of the most besides, told as such with its number."""
    known, number = {each.code for each in check.findings}, amount_text(most) if most else ""
    more = [replace(each, text=_of_most(each.text, number)) for each in leads_to.findings if each.code not in known]
    found = tuple(sorted([*check.findings, *more], key=lambda each: -LEVELS.index(each.level)))
    return replace(check, findings=found, verdict=found[0].level if found else check.verdict)


def _of_most(found: str, most: str) -> str:
    if most in found:
        return _("the maximum: {finding}", finding=found)
    return _("the maximum, {most}: {finding}", most=most, finding=found)
