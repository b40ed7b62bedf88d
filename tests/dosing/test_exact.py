"""Rounding for the eye never hides a threshold."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.exact import exact, plain, shown


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


@pytest.mark.parametrize("number", [95, 95.0, 0, -5.0])
def test_whole_numbers_stay_integers(number):
    """Integers are compared many times faster, and most readings are whole."""
    assert type(exact(number)) is int


@pytest.mark.parametrize(
    ("value", "limit", "side", "text"),
    [
        (Fraction(83, 2), Fraction(83, 2), "below", "42"),
        (Fraction(414, 10), Fraction(414, 10), "below", "41.4"),
        (Fraction(1004, 10), Fraction(1004, 10), "above", "100"),
        (Fraction(201, 2), Fraction(201, 2), "above", "100.5"),
    ],
    ids=["at a floor, up", "at a floor, down", "at a ceiling, down", "at a ceiling, up"],
)
def test_a_value_exactly_at_its_limit_is_shown_on_the_side_on_which_it_is(value, limit, side, text):
    """Under 41.5 is low and 41.5 is not; over 100.4 is high and 100.4 is not (contract, "Vitals")."""
    assert shown(value, **{side: (limit,)}) == text


def test_two_decimals_where_one_would_cross():
    assert shown(Fraction(12999, 10_000), places=1, below=(Fraction(13, 10),)) == "1.29"
    assert shown(Fraction(2), places=1) == "2"
    assert shown(Fraction(20), places=1) == "20"
