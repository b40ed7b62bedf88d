"""Infusions: a dose rate, the pump rate of a concentration that gives it, and back; what a pump can set."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import floor

from dosing.check.case import Question
from dosing.check.findings import Finding
from dosing.ground import text, units
from dosing.ground.exact import HALF
from dosing.ground.facts import Amount, Dose, Rate, Weight
from dosing.ground.language import gettext as _
from dosing.ground.units import Quantity, WrongUnit
from dosing.rules.rule_set import PumpRule

_PUMP_UNIT = "mL/h"
_PUMPED = "volume/min"


def starts(question: Question) -> bool:
    """Whether it is an infusion that would be started: what runs already goes up and down."""
    return question.treatment.form == "infusion" and not question.new_rate


def pump_rate(dose_rate: Quantity, concentration: Quantity, weight: Quantity | None) -> Quantity | None:
    """Volume per time that gives a dose rate: dose x weight / concentration; None without a weight that it needs.

    Source: dopamine prescribing information, mL/h = mcg/kg/min x kg x 60 / (mcg/mL).
    """
    per_time = absolute(dose_rate, weight)
    if per_time is None:
        return None
    rate: Quantity = per_time / concentration
    return rate


def absolute(dose_rate: Quantity, weight: Quantity | None) -> Quantity | None:
    """A dose rate per kg as one for this weight; others stay as they are."""
    if not units.is_per_kg(dose_rate):
        return dose_rate
    if weight is None:
        return None
    return dose_rate * weight


def last_set(dose: Dose) -> Rate | None:
    """The rate that an infusion was set to last, of one that is held the rate before its pause."""
    return next((rate for rate in reversed(dose.rates) if rate.amount is not None), None)


def set_for(rate: Rate, weight: Weight | None) -> Amount | None:
    """A rate per kg that was set for another weight as what it is for this one; any other as it was set."""
    amount, then = rate.amount, units.body_weight(rate.weight)
    now = units.body_weight(weight)
    if amount is None or not units.per_kg(amount.unit) or then is None or now is None or then == now:
        return amount
    return units.amount(units.quantity(amount) * then / now, amount.unit)


def restated(rate: Amount, unit: str, weight: Weight | None = None, concentration: Amount | None = None) -> Amount:
    """A rate in another unit: each of mcg/kg/min, mcg/min, units/min and mL/h from the others.

    Raises WrongUnit where the kinds do not fit, or the weight or concentration that it takes is not known.
    """
    of_pump, for_pump = (units.kind(each) == _PUMPED for each in (rate.unit, unit))
    exact, body = units.quantity(rate), units.body_weight(weight)
    if of_pump and not for_pump:
        exact = exact * _known(concentration)
    whole = absolute(exact, body)
    of_body = body if units.per_kg(unit) else 1
    if whole is None or of_body is None:
        raise WrongUnit(_("the weight is unknown, so a rate per kg cannot be compared"), code="weight_unknown")
    if for_pump and not of_pump:
        whole = whole / _known(concentration)
    return units.amount(whole / of_body, unit)


def _known(concentration: Amount | None) -> Quantity:
    if concentration is None:
        raise WrongUnit(_("a volume needs the concentration"), code="concentration_missing")
    return units.quantity(concentration)


def every_way(dose_rate: Quantity, unit: str, weight: Quantity | None, concentration: Quantity | None) -> list[Amount]:
    """A dose rate per kg and as a whole, in the mass or activity and the time of ``unit``, and as a pump rate."""
    base, time, whole = unit.split("/")[0], unit.split("/")[-1], absolute(dose_rate, weight)
    if whole is None:
        return [units.amount(dose_rate, f"{base}/kg/{time}")]
    per_kg = [] if weight is None else [units.amount(whole / weight, f"{base}/kg/{time}")]
    pump = [] if concentration is None else [units.amount(whole / concentration, _PUMP_UNIT)]
    return [*per_kg, units.amount(whole, f"{base}/{time}"), *pump]


def pump_setting(rate: Quantity, pump: PumpRule) -> Amount | None:
    """The rate that a pump sets for this one: the nearest whole step, half up; None beyond what it can run."""
    step = Fraction(str(pump.step))
    set_rate = floor(units.number(rate, _PUMP_UNIT) / step + HALF) * step
    if not Fraction(str(pump.least)) <= set_rate <= Fraction(str(pump.most)):
        return None
    return Amount(float(set_rate), _PUMP_UNIT)


def deliverable(question: Question, rate: Quantity | None) -> Iterator[Finding]:
    """Whether a pump can run this rate; a step that hardly changes the dose is no finding."""
    if rate is None:
        return
    pump, exact = question.bedside.rules.pump, units.number(rate, _PUMP_UNIT)
    setting = pump_setting(rate, pump)
    wanted = f"{text.number_text(exact)} {_PUMP_UNIT}"
    if setting is None:
        slow = exact < Fraction(str(pump.least))
        end = "least" if slow else "most"
        limit = Amount(getattr(pump, end), _PUMP_UNIT)
        told = {"wanted": wanted, "limit": text.amount_text(limit)}
        if slow:
            words = _("{wanted}: pumps run at {limit} or more; use a weaker concentration", **told)
        else:
            words = _("{wanted}: pumps run at {limit} or less; use a stronger concentration", **told)
        yield question.find("rate_not_deliverable", words, pump.sources[end], limit)
    elif abs(Fraction(str(setting.value)) - exact) * 100 > exact * Fraction(str(pump.off_percent)):
        step = Amount(pump.step, _PUMP_UNIT)
        words = _(
            "{wanted}: a pump sets steps of {step}, so {setting}; use a weaker concentration",
            wanted=wanted,
            step=text.amount_text(step),
            setting=text.amount_text(setting),
        )
        yield question.find("rate_not_deliverable", words, pump.sources["step"], step)
