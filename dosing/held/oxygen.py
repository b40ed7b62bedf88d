"""An oxygen cylinder: the liters that it gives, by its published factor or its own."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from dosing.ground import tables
from dosing.ground.facts import Amount, Cylinder
from dosing.ground.language import gettext as _
from dosing.ground.text import number_text
from dosing.rules.parts import Source

PRESSURES = ("psi", "bar")
_TABLES = tables.load("held/cylinders")
SIZES = tuple(name for name, table in _TABLES.items() if "l_per_psi" in table)


def liters(cylinder: Cylinder) -> Fraction:
    """Liters down to the reserve: (gauge - reserve) x factor, never less than nothing.

    Source: the formula of emergency care textbooks, beside the factors in ``cylinders.toml``.
    """
    gauge = _psi(Fraction(str(cylinder.pressure.value)), cylinder.pressure.unit)
    usable = gauge - Fraction(_TABLES["reserve"]["psi"])
    return max(Fraction(0), usable * _per_psi(cylinder))


def possible(pressure: Amount) -> bool:
    """Whether a gauge can read so much: ``psi`` taken for ``bar`` is fourteen times too much."""
    return _psi(Fraction(str(pressure.value)), pressure.unit) <= Fraction(_TABLES["fullest"]["psi"])


def figures() -> Iterator[tuple[str, str, Source]]:
    """The factor of each size and the reserve, as name, number with unit and source."""
    for size in SIZES:
        yield (
            _("{size} cylinder", size=size),
            f"{number_text(Fraction(_TABLES[size]['l_per_psi']))} L/psi",
            _source(size),
        )
    for name, table in ((_("Reserve"), "reserve"), (_("Fullest"), "fullest")):
        yield name, *_pressure(table)


def reserve() -> tuple[str, Source]:
    """The pressure down to which a cylinder is used, as number with unit, and its source."""
    return _pressure("reserve")


def _pressure(table: str) -> tuple[str, Source]:
    return f"{number_text(Fraction(_TABLES[table]['psi']))} psi", _source(table)


def _source(table: str) -> Source:
    return Source(table, _TABLES[table]["source"], _TABLES[table]["mark"])


def _per_psi(cylinder: Cylinder) -> Fraction:
    if cylinder.factor is None:
        return Fraction(_TABLES[cylinder.size or ""]["l_per_psi"])
    return Fraction(str(cylinder.factor.value)) / _psi(Fraction(1), cylinder.factor.unit.removeprefix("L/"))


def _psi(value: Fraction, unit: str) -> Fraction:
    return value * Fraction(_TABLES["bar"]["psi"]) if unit == "bar" else value
