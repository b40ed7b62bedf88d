"""Amounts that are refused, with words and code, and how an amount is written: ISMP list of error-prone notations.

No trailing zero, a zero before the point, commas from 1,000 on, units in full, "per mL" for a slash (ISMP, 2021).
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from dosing.ground import text, units
from dosing.ground.facts import Amount
from dosing.ground.units import WrongUnit

NO_NUMBER = ("the amount is not a number", "not_a_number")
NOT_FINITE = ("the amount is not a finite number", "not_finite")
NOT_POSITIVE = ("the amount must be above zero", "not_positive")
BEYOND = ("the amount is beyond anything that could be given", "out_of_range")
UNKNOWN = "unknown_unit"


@pytest.mark.parametrize(
    ("value", "refusal"),
    [
        ("ten", NO_NUMBER),
        (None, NO_NUMBER),
        ([1], NO_NUMBER),
        (10**400, NO_NUMBER),
        (float("nan"), NOT_FINITE),
        (float("inf"), NOT_FINITE),
        (float("-inf"), NOT_FINITE),
        (True, NOT_FINITE),
        (False, NOT_FINITE),
        (0, NOT_POSITIVE),
        (-1, NOT_POSITIVE),
        (1e300, BEYOND),
        (1e-300, BEYOND),
    ],
    ids=repr,
)
def test_an_amount_that_is_none_is_refused_in_words(value: Any, refusal: tuple[str, str]) -> None:
    with pytest.raises(WrongUnit) as refused:
        units.quantity(Amount(value, "mcg"))

    assert (refused.value.detail, refused.value.code, refused.value.field) == (*refusal, "amount")


@pytest.mark.parametrize("unit", ["ug", "cc", "u", "IU", "mcg/kg/hr", "mg/dL", "", "mcg "])
def test_a_unit_that_is_not_of_the_list_is_refused_by_its_name(unit: str) -> None:
    with pytest.raises(WrongUnit) as refused:
        units.quantity(Amount(1, unit))

    assert (refused.value.detail, refused.value.code) == (f"unknown unit {unit!r}", UNKNOWN)


@pytest.mark.parametrize(
    ("value", "unit", "written"),
    [
        (1, "units", "1 unit"),
        (2, "units", "2 units"),
        (0.5, "units", "0.5 units"),
        (1, "units/mL", "1 unit per mL"),
        (2, "units/mL", "2 units per mL"),
        (1, "bag", "1 bag"),
        (2, "bag", "2 bags"),
        (1, "mcg", "1 mcg"),
        (1, "mcg/mL", "1 mcg per mL"),
        (0, "mL", "0 mL"),
        (1000, "mg", "1 g"),
        (1234, "mg", "1.234 g"),
        (999, "mg", "999 mg"),
    ],
)
def test_an_amount_is_written_with_its_unit_in_full(value: float, unit: str, written: str) -> None:
    assert text.amount_text(Amount(value, unit)) == written


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (0, "0"),
        (0.0, "0"),
        (Fraction(0), "0"),
        (10, "10"),
        (100, "100"),
        (1250, "1,250"),
        (2.50, "2.5"),
        (0.125, "0.125"),
        (26.34, "26.3"),
        (26.35, "26.4"),
        (Fraction(2, 3), "0.667"),
        (Decimal("0.10"), "0.1"),
        (1_000_000, "1,000,000"),
    ],
    ids=repr,
)
def test_a_number_is_rounded_half_up_to_three_digits_without_a_trailing_zero(value: Any, written: str) -> None:
    assert text.number_text(value) == written
