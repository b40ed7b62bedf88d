"""What a child's age asks for: lowest pressures, heart rate, shock index. The numbers stand in ``age_tables.toml``."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from fractions import Fraction
from functools import lru_cache
from typing import Any

from dosing.ground.facts import Age
from dosing.ground.patient import completed_days, completed_months, completed_years
from dosing.ground.tables import load
from dosing.rules.parts import Source

_TABLES = load("ground/age_tables")
_ENDS = {"under_days": completed_days, "under_months": completed_months, "under_years": completed_years}


@lru_cache(maxsize=1024)
def _band(table: str, age: Age) -> Mapping[str, Any]:
    """The first band whose end the age has not reached."""
    for band in _TABLES[table]["bands"]:
        ends = [(completed(age), band[key]) for key, completed in _ENDS.items() if key in band]
        if all(lived < end for lived, end in ends):
            return band  # type: ignore[no-any-return]
    raise LookupError(f"age_tables.toml, [{table}]: no band for {age}")


def systolic_floor(age: Age) -> Fraction:
    """Lowest acceptable systolic pressure in mmHg by the life-support table; 80 at five years."""
    band = _band("systolic_floor", age)
    return Fraction(band["base"] + band.get("per_year", 0) * completed_years(age))


def systolic_critical(age: Age, injuries: Collection[str] = ()) -> Fraction:
    """The systolic pressure in mmHg at or under which it is critical: 0.85 of the floor, with a head injury all of it.

    Of a floor that is critical itself only what is under it.
    """
    table = "systolic_critical_head" if "head" in injuries else "systolic_critical"
    return Fraction(_TABLES[table]["part_of_floor"] * systolic_floor(age))


def map_floor(age: Age) -> Fraction:
    """Lowest acceptable mean pressure in mmHg: 1.5 x completed years + 40, under one year by the sepsis criteria."""
    rule = _TABLES["map_floor"]
    years = completed_years(age)
    if years < rule["from_years"]:
        return map_one_point(age)
    return Fraction(rule["base"] + rule["per_year"] * years)


def map_one_point(age: Age) -> Fraction:
    """The mean pressure in mmHg below which the sepsis criteria give one point."""
    return Fraction(_band("map_points", age)["one"])


def map_two_points(age: Age) -> Fraction:
    """The mean pressure in mmHg below which the sepsis criteria give two points: critical."""
    return Fraction(_band("map_points", age)["two"])


def heart_rate_band(age: Age | None) -> tuple[int, int]:
    """Usual heart rate awake, lowest and highest per minute; without an age an adult's."""
    band = _band("heart_rate", age) if age else _TABLES["heart_rate"]["bands"][-1]
    return band["low"], band["high"]


@lru_cache(maxsize=1024)
def shock_index_limit(age: Age | None) -> Fraction | None:
    """The shock index above which it is elevated; None where nothing is published for the age."""
    band = _band("shock_index", age) if age else _TABLES["shock_index"]["bands"][-1]
    limit = band.get("above")
    return None if limit is None else Fraction(limit)


def because(injuries: Collection[str]) -> str:
    """Why a child's goal is the lowest pressure for its age, as the card says it."""
    told: str = _TABLES["because"]["head" if "head" in injuries else "usual"]
    return told


def source(table: str) -> Source:
    """Where the numbers of a table of ``age_tables.toml`` come from."""
    return Source(table, _TABLES[table]["source"], _TABLES[table]["mark"])
