"""Rounding for the eye never hides a threshold."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.exact import exact, plain, shown


@pytest.mark.parametrize(
    ("written", "value"), [(95, 95), (95.0, 95), (49.95, Fraction(4995, 100)), (0.1, Fraction(1, 10))]
)
def test_a_number_is_what_was_written(written, value):
    assert exact(written) == value


@pytest.mark.parametrize(
    ("value", "text"), [(65, "65"), (Fraction(83, 2), "41.5"), (Fraction(9, 2), "4.5"), (100, "100")]
)
def test_no_trailing_zeros(value, text):
    assert plain(value) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Fraction(194, 3), "64.7"),  # 64.67 is below 65
        (65, "65"),
        (Fraction(196, 3), "65"),  # 65.33 is not
        (Fraction(184, 3), "61"),
        (Fraction(179, 3), "59.7"),
        (Fraction(239, 3), "79.7"),
        (Fraction(301, 3), "100.3"),
        (Fraction(299, 3), "100"),
        (Fraction(6497, 100), "64.9"),
        (Fraction(10004, 100), "100.1"),
        (Fraction(64999, 1000), "64.9"),
    ],
    ids=str,
)
def test_one_decimal_where_the_whole_number_would_cross(value, text):
    assert shown(value, below=(60, 65, 80), above=(100,)) == text


@given(st.fractions(10, 250, max_denominator=1000))
def test_what_is_shown_is_on_the_same_side_of_every_threshold(value):
    number = Fraction(shown(value, below=(60, 65, 80), above=(100,)))

    assert [number < limit for limit in (60, 65, 80)] == [value < limit for limit in (60, 65, 80)]
    assert (number > 100) == (value > 100)
    assert abs(number - value) <= Fraction(1, 2)
