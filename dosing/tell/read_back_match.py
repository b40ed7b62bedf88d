"""Read-back of a dose: whether what the crew repeats, or has in the hand, comes to what was ordered."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from msgspec import Struct

from dosing.check import infusion
from dosing.ground import text, units
from dosing.ground.facts import Amount, Weight
from dosing.ground.units import Quantity, WrongUnit
from dosing.mix import stock
from dosing.rules.rule_set import PumpRule, Treatment

_PERCENT = 100


class Said(Struct, frozen=True, kw_only=True):
    """What was repeated: an amount, or strength and volume, or concentration and pump rate."""

    amount: Amount | None = None
    strength: Amount | None = None
    volume: Amount | None = None
    concentration: Amount | None = None
    rate: Amount | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordered:
    """What was ordered, for whom; ``treatment`` None is a drug that the rule set lacks."""

    amount: Amount
    concentration: Amount | None = None
    weight: Weight | None = None
    treatment: Treatment | None = None


def matches(said: Said, ordered: Ordered, pump: PumpRule) -> bool:
    """Whether both are the same dose, however they are spelt; what cannot be compared does not match.

    A volume matches as far as volumes are shown, a pump rate to the step of the pump: neither hides another strength.
    """
    try:
        if said.amount is not None:
            return _repeated(said.amount, ordered)
        if said.strength is not None and said.volume is not None:
            return _drawn(said.strength, said.volume, ordered)
        if said.concentration is not None and said.rate is not None:
            return _running(said.concentration, said.rate, ordered, pump)
    except WrongUnit:
        return False
    return False


def runs_at(rate: Amount, ordered: Ordered, pump: PumpRule) -> bool:
    """Whether what runs is set to the rate ordered; a dose and a pump rate are alike to the step of the pump.

    ``ordered.concentration`` is the strength that runs. What cannot be compared is not the same.
    """
    try:
        if units.kind(rate.unit) == units.kind(ordered.amount.unit) or ordered.concentration is None:
            return _repeated(rate, ordered)
        strength = units.quantity(ordered.concentration)
        return _set_to(_dose(rate, ordered) / strength, _dose(ordered.amount, ordered) / strength, pump)
    except WrongUnit:
        return False


def comes_to(said: Said, ordered: Ordered) -> Amount | None:
    """The dose or rate in the hand, in the unit of the order; None where it was repeated, or has none such."""
    parts = (said.strength, said.volume) if said.strength is not None else (said.concentration, said.rate)
    if said.amount is not None or parts[0] is None or parts[1] is None:
        return None
    weight, unit = units.body_weight(ordered.weight), ordered.amount.unit
    try:
        held = units.quantity(parts[0]) * units.quantity(parts[1])
        if units.per_kg(unit):
            return None if weight is None else units.amount(held / weight, unit)
        return units.amount(held, unit)
    except WrongUnit:
        return None


def _dose(amount: Amount, ordered: Ordered) -> Quantity:
    """An amount as this patient would get it: a pump rate as the drug in it, an amount per kg for the weight."""
    exact = units.quantity(amount)
    if units.kind(amount.unit) == "volume/min" and ordered.concentration is not None:
        exact = exact * units.quantity(ordered.concentration)
    return infusion.absolute(exact, units.body_weight(ordered.weight)) or exact


def _repeated(said: Amount, ordered: Ordered) -> bool:
    if units.kind(said.unit) == units.kind(ordered.amount.unit):
        return units.same(said, ordered.amount)
    if units.kind(said.unit) == "volume/min":
        return False  # a pump rate says no dose without the strength that is in the hand
    one, other = _dose(said, ordered), _dose(ordered.amount, ordered)
    return bool(one.units == other.units and one.magnitude == other.magnitude)


def _drawn(strength: Amount, volume: Amount, ordered: Ordered) -> bool:
    exact, dose = units.quantity(strength), _dose(ordered.amount, ordered)
    if ordered.treatment is not None and units.kind(ordered.treatment.unit) == "volume":
        listed = any(stock.alike(exact, one.exact) for one in ordered.treatment.stocks)
        return listed and _number(units.quantity(volume), "mL") == _number(dose, "mL")
    needed = _number(dose / exact, "mL")
    if ordered.treatment is not None and stock.recognize(ordered.treatment, exact).strength is None:
        return False  # the wrong vial is never the right dose
    return text.number_text(_number(units.quantity(volume), "mL")) == text.number_text(needed)


def _running(concentration: Amount, rate: Amount, ordered: Ordered, pump: PumpRule) -> bool:
    needed = _dose(ordered.amount, ordered) / units.quantity(concentration)
    return _set_to(units.quantity(rate), needed, pump)


def _set_to(rate: Quantity, wanted: Quantity, pump: PumpRule) -> bool:
    """Whether a pump rate is the one wanted, as both are shown or to the step of the pump."""
    runs, needed = _number(rate, "mL/h"), _number(wanted, "mL/h")
    step, off = Fraction(str(pump.step)), Fraction(str(pump.off_percent))
    as_shown = text.number_text(runs) == text.number_text(needed)
    return as_shown or abs(runs - needed) <= min(step / 2, needed * off / _PERCENT)


def _number(exact: Quantity, unit: str) -> Fraction:
    """The exact number of ``unit``; raises WrongUnit where the quantity measures something else."""
    units.amount(exact, unit)
    return units.number(exact, unit)
