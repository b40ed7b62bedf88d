"""Completed ages, and who is an adult for what."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.facts import Age, Patient, Weight
from dosing.ground.patient import (
    age_text,
    child_age,
    completed_days,
    completed_months,
    completed_years,
    is_adult,
    is_adult_for_dosing,
)


@pytest.mark.parametrize(
    ("age", "years"),
    [
        (Age(0, "days"), 0),
        (Age(364, "days"), 0),
        (Age(365, "days"), 1),
        (Age(11, "months"), 0),
        (Age(12, "months"), 1),
        (Age(23, "months"), 1),
        (Age(215, "months"), 17),
        (Age(216, "months"), 18),
        (Age(5.9, "years"), 5),
        (Age(130, "years"), 130),
    ],
    ids=str,
)
def test_years_are_completed_not_rounded(age, years):
    assert completed_years(age) == years


@pytest.mark.parametrize(
    ("age", "months"),
    [
        (Age(30, "days"), 0),
        (Age(31, "days"), 1),
        (Age(365, "days"), 12),
        (Age(18, "months"), 18),
        (Age(1.5, "years"), 18),
    ],
    ids=str,
)
def test_a_month_of_days_is_a_twelfth_of_a_year(age, months):
    assert completed_months(age) == months


def test_an_age_in_months_has_at_least_the_days_of_its_months():
    assert [completed_days(Age(months, "months")) for months in (0, 1, 12)] == [0, 30, 365]


@given(st.integers(0, 130 * 365))
def test_the_three_units_agree_about_whole_years(days):
    years = completed_years(Age(days, "days"))

    assert completed_months(Age(days, "days")) // 12 == years
    assert completed_years(Age(completed_months(Age(days, "days")), "months")) == years


@pytest.mark.parametrize(
    ("age", "adult"),
    [
        (None, True),
        (Age(17, "years"), False),
        (Age(215, "months"), False),
        (Age(18, "years"), True),
        (Age(90, "years"), True),
    ],
    ids=str,
)
def test_pressure_is_an_adults_from_18_years_or_without_an_age(age, adult):
    patient = Patient(age=age)

    assert is_adult(patient) is adult
    assert (child_age(patient) is None) is adult


@pytest.mark.parametrize(
    ("age", "kg", "adult"),
    [
        (None, None, True),
        (None, 20, True),
        (Age(18, "years"), None, True),
        (Age(18, "years"), 38, True),
        (Age(12, "years"), 50, True),
        (Age(12, "years"), 49.9, False),
        (Age(11, "years"), 80, False),
        (Age(143, "months"), 50, False),
        (Age(144, "months"), 50, True),
        (Age(15, "years"), None, False),
    ],
)
def test_doses_are_an_adults_from_18_years_or_from_12_years_and_50_kg(age, kg, adult):
    patient = Patient(age=age, weight=None if kg is None else Weight(kg))

    assert is_adult_for_dosing(patient) is adult


@pytest.mark.parametrize(
    ("age", "text"),
    [
        (None, "adult, age unknown"),
        (Age(5, "years"), "5 years"),
        (Age(1, "years"), "1 year"),
        (Age(1, "months"), "1 month"),
        (Age(10, "days", "known"), "10 days"),
        (Age(2.5, "years"), "2.5 years"),
        (Age(70, "years", "estimated"), "about 70 years"),
    ],
)
def test_an_age_in_words(age, text):
    assert age_text(age) == text
