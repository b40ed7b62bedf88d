"""Amounts as exact quantities: the only place that knows the unit library.

The registry is built empty: drug mass, body weight, volume, units of activity, mmol, mEq, bags of blood and time are
separate base dimensions, so that a mistake of kind cannot be computed. Magnitudes are fractions, because a decimal
conversion can put a dose that is exactly at a limit above it. The library says what comes of units; the fractions are
reckoned here, for it takes ten times as long for each step.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from math import isfinite
from typing import Any

import pint

from dosing.ground.facts import Amount, Weight
from dosing.ground.language import gettext as _

_BASE = {"mcg": "drug_mass", "kg": "body_weight", "mL": "volume", "units": "activity", "mmol": "substance"} | {
    "mEq": "charge",
    "bag": "blood_bag",
    "min": "time",
}
_DERIVED = ("mg = 1000 * mcg", "g = 1000 * mg", "L = 1000 * mL", "h = 60 * min")
_KINDS = {
    "mcg": "mass",
    "mg": "mass",
    "g": "mass",
    "mL": "volume",
    "L": "volume",
    "kg": "weight",
    "min": "time",
    "h": "time",
}
DOSE = re.compile(r"(mcg|mg|g|mL|L|units|mmol|mEq|bag)(/kg)?(/min|/h)?")
STRENGTH = re.compile(r"(mcg|mg|g|units|mmol|mEq)/mL")
VOLUME = re.compile(r"mL|L")
_LARGEST, _SMALLEST = 1e9, 1e-9


class WrongUnit(ValueError):
    """An amount that cannot be understood: ``field`` is where it stood, ``code`` what is wrong with it."""

    def __init__(self, detail: str, *, code: str = "wrong_unit", field: str = "amount") -> None:
        super().__init__(detail)
        self.detail, self.code, self.field = detail, code, field


def _registry() -> pint.UnitRegistry[Fraction]:
    registry: pint.UnitRegistry[Fraction] = pint.UnitRegistry(None, non_int_type=Fraction)
    for unit, dimension in _BASE.items():
        registry.define(f"{unit} = [{dimension}]")
    for definition in _DERIVED:
        registry.define(definition)
    return registry


_UNITS = _registry()


class Quantity:
    """An exact number of base units, never changed; ``units`` are in words that the library reads."""

    __slots__ = ("magnitude", "units")

    def __init__(self, magnitude: Fraction, units: str) -> None:
        self.magnitude, self.units = magnitude, units

    def __mul__(self, other: Quantity | Fraction | int) -> Quantity:
        if isinstance(other, Quantity):
            return Quantity(self.magnitude * other.magnitude, _multiplied(self.units, other.units))
        return Quantity(self.magnitude * other, self.units)

    __rmul__ = __mul__

    def __truediv__(self, other: Quantity | Fraction | int) -> Quantity:
        if isinstance(other, Quantity):
            return Quantity(self.magnitude / other.magnitude, _divided(self.units, other.units))
        return Quantity(self.magnitude / other, self.units)

    def __add__(self, other: Quantity) -> Quantity:
        return Quantity(self.magnitude + self._alike(other), self.units)

    def __sub__(self, other: Quantity) -> Quantity:
        return Quantity(self.magnitude - self._alike(other), self.units)

    def __lt__(self, other: Quantity) -> bool:
        return self.magnitude < self._alike(other)

    def __le__(self, other: Quantity) -> bool:
        return self.magnitude <= self._alike(other)

    def __gt__(self, other: Quantity) -> bool:
        return self.magnitude > self._alike(other)

    def __ge__(self, other: Quantity) -> bool:
        return self.magnitude >= self._alike(other)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Quantity) and (self.magnitude, self.units) == (other.magnitude, other.units)

    def __hash__(self) -> int:
        return hash((self.magnitude, self.units))

    def __repr__(self) -> str:
        return f"{self.magnitude} {self.units}"

    def _alike(self, other: Quantity) -> Fraction:
        """The magnitude of another of the same kind: a mistake of kind ends the program here."""
        if self.units != other.units:
            raise TypeError(f"{self.units} is not {other.units}")
        return other.magnitude


@lru_cache(maxsize=512)
def kind(unit: str) -> str:
    """What a unit measures, such as ``mass``, ``mass/kg/min``, ``volume/min`` or ``mass/volume``; hours count as min.

    Raises WrongUnit for a unit that is not on the list of the contract.
    """
    if unit in ("kg", "min", "h"):
        return _KINDS[unit]
    if strength := STRENGTH.fullmatch(unit):
        return f"{_KINDS.get(strength[1], strength[1])}/volume"
    parts = DOSE.fullmatch(unit)
    if parts is None:
        raise WrongUnit(_("unknown unit {unit!r}", unit=unit), code="unknown_unit")
    return _KINDS.get(parts[1], parts[1]) + (parts[2] or "") + ("/min" if parts[3] else "")


def _one(units: str) -> Any:
    return _UNITS.Quantity(Fraction(1), _UNITS.Unit(units))


def _written(exact: Any) -> str:
    """The units of what the library made, in one way: ``kg**-1 * mcg**1``."""
    return " * ".join(f"{unit}**{power}" for unit, power in sorted(exact.unit_items()))


@lru_cache(maxsize=512)
def _base(unit: str) -> tuple[Fraction, str]:
    kind(unit)  # refuses what is not on the list before the library reads it as an expression
    one = _one(unit).to_base_units()
    return Fraction(one.magnitude), _written(one)


@lru_cache(maxsize=4096)
def _exact(number: str, unit: str) -> Quantity:
    factor, base = _base(unit)
    return Quantity(Fraction(number) * factor, base)


def quantity(amount: Amount) -> Quantity:
    """The amount as an exact quantity in base units; raises WrongUnit unless it is finite, above zero and known."""
    _check_number(amount.value)
    return _exact(str(amount.value), amount.unit)


def _check_number(value: object) -> None:
    try:
        size = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        raise WrongUnit(_("the amount is not a number"), code="not_a_number") from None
    if isinstance(value, bool) or not isfinite(size):
        raise WrongUnit(_("the amount is not a finite number"), code="not_finite")
    if size <= 0:
        raise WrongUnit(_("the amount must be above zero"), code="not_positive")
    if not _SMALLEST <= size <= _LARGEST:
        raise WrongUnit(_("the amount is beyond anything that could be given"), code="out_of_range")


def same(one: Amount, other: Amount) -> bool:
    """Whether two amounts are the same whatever their spelling: 0.01 mg is 10 mcg; mcg are never mL."""
    first, second = quantity(one), quantity(other)
    return bool(first.units == second.units and first.magnitude == second.magnitude)


def amount(exact: Quantity, unit: str) -> Amount:
    """An exact quantity as a plain amount in ``unit``; raises WrongUnit where it measures something else."""
    factor, base = _base(unit)
    if exact.units != base:
        raise WrongUnit(_("this amount cannot be stated in {unit}", unit=unit), code="wrong_kind")
    # A fraction would first be made the smallest; whole numbers give the same float without.
    number = exact.magnitude
    return Amount(number.numerator * factor.denominator / (number.denominator * factor.numerator), unit)


def per_kg(unit: str) -> bool:
    """Whether the unit is one for each kg of body weight."""
    return "/kg" in unit


def is_per_kg(exact: Quantity) -> bool:
    """Whether a quantity is still one for each kg of body weight."""
    return _has_weight(exact.units)  # a weight itself is never a dose


@lru_cache(maxsize=512)
def _has_weight(units: str) -> bool:
    return "[body_weight]" in _UNITS.Unit(units).dimensionality


def body_weight(weight: Weight | None) -> Quantity | None:
    """The body weight as an exact quantity, None where nobody knows it."""
    return None if weight is None else quantity(Amount(weight.value, "kg"))


def exactly(number: Fraction, unit: str) -> Quantity:
    """An exact number of a unit as a quantity, however large or small: for sums of what was understood before."""
    factor, base = _base(unit)
    return Quantity(number * factor, base)


def number(exact: Quantity, unit: str) -> Fraction:
    """The exact number of ``unit`` in a quantity of that kind."""
    factor, _ = _base(unit)
    return _fraction(exact.magnitude) if factor == 1 else exact.magnitude / factor


def _fraction(number: Any) -> Fraction:
    return number if type(number) is Fraction else Fraction(number)  # made again it would cost as much as a division


@lru_cache(maxsize=512)
def _divided(one: str, other: str) -> str:
    return _written(_one(one) / _one(other))


@lru_cache(maxsize=512)
def _multiplied(one: str, other: str) -> str:
    return _written(_one(one) * _one(other))


def quotient(one: Quantity, other: Quantity, unit: str) -> Fraction:
    """The exact number of ``unit`` in one quantity divided by another, such as mL of a dose by its strength."""
    factor, base = _base(unit)
    if _divided(one.units, other.units) != base:
        raise WrongUnit(_("this cannot be stated in {unit}", unit=unit), code="wrong_kind")
    divided = _fraction(one.magnitude) / _fraction(other.magnitude)
    return divided if factor == 1 else divided / factor


def in_volume(amount: Amount, bag_ml: float | None) -> Quantity:
    """The exact quantity; bags of blood as their largest volume, so that bags and mL can be added up."""
    if amount.unit == "bag" and bag_ml is not None:
        return quantity(Amount(amount.value * bag_ml, "mL"))
    return quantity(amount)
