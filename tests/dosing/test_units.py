"""Amounts as exact quantities: what is the same, what is of another kind, what is refused."""

from fractions import Fraction
from math import inf, nan
from operator import add, eq, ge, gt, le, lt, sub
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground import units
from dosing.ground.facts import Amount, Weight
from tests.dosing.dosing_values import numbers, rows

MASS = {"mcg": 1, "mg": 1_000, "g": 1_000_000}
SIZES = st.integers(1, 10_000) | st.floats(0.001, 1000)
UNITS = {f"{base}{kg}{time}" for base in ("mcg", "mg", "g", "mL", "L", "units", "mmol", "mEq", "bag")
         for kg in ("", "/kg") for time in ("", "/min", "/h")} | {"mg/mL", "units/mL", "kg", "min", "h"}  # fmt: skip


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (Amount(0.01, "mg"), Amount(10, "mcg")),
        (Amount(0.02, "mg"), Amount(20, "mcg")),
        (Amount(1, "g"), Amount(1000, "mg")),
        (Amount(0.5, "L"), Amount(500, "mL")),
        (Amount(30, "mcg/kg/h"), Amount(0.5, "mcg/kg/min")),
        (Amount(0.1, "mg/mL"), Amount(100, "mcg/mL")),
        (Amount(60, "mL/h"), Amount(1, "mL/min")),
    ],
    ids=lambda amount: f"{amount.value:.4g} {amount.unit}",
)
def test_values_are_compared_not_spelling(one, other):
    assert units.same(one, other)


@pytest.mark.parametrize("value", [0.1, 0.3, 0.7, 1.1, 2.3, 0.05])
def test_a_decimal_is_exactly_itself(value):
    assert units.same(Amount(value, "mg"), Amount(round(value * 1000), "mcg"))


def test_a_rate_exactly_at_its_limit_is_not_above_it():
    assert not units.quantity(Amount(30, "mcg/kg/h")) > units.quantity(Amount(0.5, "mcg/kg/min"))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (Amount(10, "mcg"), Amount(10, "mL")),
        (Amount(10, "mcg"), Amount(10, "mcg/kg")),
        (Amount(1, "units"), Amount(1, "bag")),
        (Amount(1, "mmol"), Amount(1, "mEq")),
        (Amount(1, "mg"), Amount(1, "mg/mL")),
        (Amount(1, "mcg/min"), Amount(1, "mcg/kg/min")),
    ],
    ids=lambda amount: amount.unit,
)
def test_another_kind_is_never_the_same(one, other):
    assert not units.same(one, other)


@pytest.mark.parametrize(
    "unit", ["furlong", "µg", "ug", "cc", "IU", "U", "mcg/lb", "mL/kg/mL", "", "mcg**9", "mg per kg"]
)
def test_a_unit_that_is_not_on_the_list_is_refused(unit):
    with pytest.raises(units.WrongUnit) as refused:
        units.quantity(Amount(10, unit))

    assert refused.value.code == "unknown_unit"


@pytest.mark.parametrize(
    ("value", "code", "words"),
    [
        (0, "not_positive", "the amount must be above zero"),
        (-1, "not_positive", "the amount must be above zero"),
        (nan, "not_finite", "the amount is not a finite number"),
        (inf, "not_finite", "the amount is not a finite number"),
        ("ten", "not_a_number", "the amount is not a number"),
        (None, "not_a_number", "the amount is not a number"),
        (True, "not_finite", "the amount is not a finite number"),
        ("1e999999", "not_finite", "the amount is not a finite number"),
        (1e12, "out_of_range", "the amount is beyond anything that could be given"),
    ],
    ids=str,
)
def test_a_number_that_is_no_amount_is_refused(value, code, words):
    with pytest.raises(units.WrongUnit) as refused:
        units.quantity(Amount(value, "mcg"))

    assert (refused.value.code, refused.value.detail) == (code, words)


@pytest.mark.parametrize("value", [1e-9, 1e9])
def test_the_smallest_and_the_largest_number_are_amounts(value):
    assert units.same(Amount(value, "mcg"), Amount(value, "mcg"))


def test_a_drug_is_never_weighed_against_a_body():
    per_kg = units.quantity(Amount(1, "mcg/kg"))
    weight = units.body_weight(Weight(80))

    assert (per_kg * weight).units == units.quantity(Amount(1, "mcg")).units
    with pytest.raises(units.WrongUnit, match=r"^this amount cannot be stated in mcg$"):
        units.amount(per_kg, "mcg")


@pytest.mark.parametrize("row", rows("UNI-008", "UNI-009"))
def test_published_conversions(row):
    (value, unit), target = row["input"].split(" to ")[0].split(" "), row["input"].split(" to ")[1]

    assert units.amount(units.quantity(Amount(float(value), unit)), target).value == pytest.approx(
        numbers(row["expected"])[0]
    )


@pytest.mark.parametrize("row", rows("RAT-001", "RAT-002", "RAT-003"))
def test_ratio_strengths_in_mg_per_ml(row):
    """A ratio of 1 to so many is a gram in so many mL."""
    milliliters = int(row["input"].split(":")[1].replace(",", ""))
    strength = units.quantity(Amount(1, "g")) / units.quantity(Amount(milliliters, "mL"))

    assert units.amount(strength, "mg/mL").value == float(row["expected"])


@given(st.integers(1, 10_000), st.sampled_from(sorted(MASS)), st.sampled_from(sorted(MASS)))
def test_there_and_back_again(value, here, there):
    exact = units.quantity(Amount(value, here))

    assert units.number(exact, there) * MASS[there] == value * MASS[here]
    assert units.number(exact, here) == value


PARTS = {part for unit in units._UNITS for part in unit.split("/")}


@given(st.text(max_size=12).filter(lambda unit: not set(unit.split("/")) <= PARTS))
def test_no_text_at_all_breaks_the_reader_of_units(unit):
    with pytest.raises(units.WrongUnit):
        units.kind(unit)


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)), SIZES, SIZES)
def test_quantities_are_multiplied_and_divided_as_the_unit_library_does(one, other, here, there):
    first, second = (units.quantity(Amount(value, unit)) for value, unit in ((here, one), (there, other)))
    mine, theirs = by_library(here, one), by_library(there, other)

    assert is_as(first * second, mine * theirs)
    assert is_as(first / second, mine / theirs)
    assert first * second / second == first
    assert (first.units == second.units) == (mine.units == theirs.units)


def by_library(value: float, unit: str) -> Any:
    return units._UNITS.Quantity(Fraction(str(value)), units._UNITS.Unit(unit)).to_base_units()


def is_as(mine: units.Quantity, theirs: Any) -> bool:
    return mine.magnitude == theirs.magnitude and units._UNITS.Unit(mine.units) == theirs.units


@pytest.mark.parametrize("step", [add, sub, lt, le, gt, ge])
def test_what_is_of_another_kind_is_neither_added_nor_compared(step):
    with pytest.raises(TypeError, match=r"mcg.* is not mL"):
        step(units.quantity(Amount(1, "mcg")), units.quantity(Amount(1, "mL")))


@given(SIZES, SIZES)
def test_quantities_of_a_kind_are_added_and_compared_by_their_numbers(here, there):
    one, other = (units.quantity(Amount(value, "mg")) for value in (here, there))
    first, second = (Fraction(str(value)) * 1000 for value in (here, there))

    for step in (add, sub):
        assert step(one, other).magnitude == step(first, second)
    for step in (lt, le, gt, ge, eq):
        assert step(one, other) is step(first, second)
    assert one != units.quantity(Amount(here, "mL"))


def test_the_registry_holds_our_units_alone():
    """The unit library would read a long list of units, slowly; ours defines twelve."""
    assert "mcg" in units._UNITS
    assert "meter" not in units._UNITS


def test_a_fresh_registry_counts_our_own_units_in_fractions():
    """Decimals or floats would put a rate exactly at its limit above it (30 mcg/kg/h against 0.5 mcg/kg/min)."""
    fresh = units._registry()
    hour, gram = fresh.Quantity(1, fresh.Unit("h")), fresh.Quantity(1, fresh.Unit("g"))

    assert hour.to("min").magnitude == 60
    assert gram.to("mcg").magnitude == 1_000_000
    assert isinstance((fresh.Quantity(1, fresh.Unit("mcg")).to("mg")).magnitude, Fraction)
    assert "meter" not in fresh


def test_a_refusal_says_what_and_where():
    refused = units.WrongUnit("no such unit")

    assert str(refused) == refused.detail == "no such unit"
    assert (refused.code, refused.field) == ("wrong_unit", "amount")
