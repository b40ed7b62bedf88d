"""Infusions: a dose rate, the pump rate of a concentration that gives it, and back."""

from __future__ import annotations

from dosing import units
from dosing.facts import Amount, Weight
from dosing.units import Quantity, WrongUnit


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
    whole: Quantity = dose_rate * weight
    return whole


def rate_in_hand(concentration: Amount, rate: Amount, weight: Weight | None, unit: str) -> Amount:
    """The dose rate, in ``unit``, that a pump rate of a concentration gives.

    Raises WrongUnit where the kinds do not fit, or ``unit`` is per kg and nobody knows the weight.
    """
    dose_rate = units.quantity(concentration) * units.quantity(rate)
    if units.per_kg(unit):
        exact = units.body_weight(weight)
        if exact is None:
            raise WrongUnit("the weight is unknown, so a rate per kg cannot be compared", code="weight_unknown")
        dose_rate = dose_rate / exact
    return units.amount(dose_rate, unit)


def lasts_min(container: Amount, rate: Amount) -> float:
    """How many minutes a bag or syringe lasts at a pump rate."""
    time = units.quantity(container) / units.quantity(rate)
    return float(time.magnitude)
