"""Amounts as people read them, against the list of error-prone notations."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground import text
from dosing.ground.facts import Amount
from tests.dosing.dosing_values import rows


@pytest.mark.parametrize("row", rows("ISMP-001", "ISMP-007", "ISMP-013", "ISMP-015", "ISMP-016"))
def test_the_list_of_error_prone_notations(row):
    """The unsafe spelling, read as a number, is shown as the list asks."""
    number, unit = row["input"].split(" ")

    assert text.amount_text(Amount(float(number), unit)) == row["expected"]


@pytest.mark.parametrize("row", rows("ISMP-003", "ISMP-004", "ISMP-005", "ISMP-006"))
def test_units_are_written_as_the_list_asks(row):
    """The safe spelling is the one that this project uses for the unit."""
    number, unit = row["expected"].split(" ")

    assert text.amount_text(Amount(float(number), unit)) == row["expected"]


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0.1, "0.1"),
        (1.0, "1"),
        (615, "615"),
        (1234.4, "1,234"),
        (26.25, "26.3"),
        (13.125, "13.1"),
        (0.125, "0.125"),
        (0.0002, "0.0002"),
        (9.0909, "9.09"),
        (2.5, "2.5"),
        (100_000, "100,000"),
        (Fraction(1, 3), "0.333"),
        (Fraction(5, 4), "1.25"),
    ],
)
def test_numbers(value, shown):
    assert text.number_text(value) == shown


@pytest.mark.parametrize(
    ("amount", "shown"),
    [
        (Amount(10, "mcg/mL"), "10 mcg per mL"),
        (Amount(0.1, "mcg/kg/min"), "0.1 mcg/kg/min"),
        (Amount(1, "bag"), "1 bag"),
        (Amount(2, "bag"), "2 bags"),
        (Amount(0.04, "units/min"), "0.04 units/min"),
        (Amount(5, "units"), "5 units"),
        (Amount(2, "units"), "2 units"),
        (Amount(1, "units"), "1 unit"),
        (Amount(999, "mg"), "999 mg"),
        (Amount(1000, "mg"), "1 g"),
        (Amount(1050, "mg"), "1.05 g"),
        (Amount(1234, "mg"), "1.234 g"),
        (Amount(1000, "mcg"), "1,000 mcg"),
        (Amount(1000, "mg/mL"), "1,000 mg per mL"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_amounts(amount, shown):
    """From 1 g upward in g: guidance on prescription writing in a national formulary, from memory."""
    assert text.amount_text(amount) == shown


def test_rounding_never_makes_a_dose_look_like_its_limit():
    assert text.apart_text(Amount(20.004, "mcg"), Amount(20, "mcg")) == ("20.004 mcg", "20 mcg")
    assert text.apart_text(Amount(20, "mcg"), Amount(20.004, "mcg")) == ("20 mcg", "20.004 mcg")
    assert text.apart_text(Amount(20, "mcg"), Amount(20, "mcg")) == ("20 mcg", "20 mcg")


def test_no_more_digits_than_it_takes_and_no_fewer_than_usual():
    assert text.apart_text(Amount(0.126, "mg"), Amount(0.2, "mg")) == ("0.126 mg", "0.2 mg")
    assert text.apart_text(Amount(0.123456, "mg"), Amount(0.123456, "mg")) == ("0.123 mg", "0.123 mg")
    assert text.apart_text(Amount(0.123456, "mg"), Amount(0.123459, "mcg")) == ("0.123 mg", "0.123 mcg")
    assert text.apart_text(Amount(1000.5, "mg"), Amount(1000, "mg")) == ("1.001 g", "1 g")


@pytest.mark.parametrize(
    ("minutes", "shown"),
    [
        (2, "2 min"),
        (0.5, "30 s"),
        (180, "3 h"),
        (125, "2 h 5 min"),
        (1.5, "1.5 min"),
        (1.75, "1.8 min"),
        (1, "1 min"),
        (45, "45 min"),
    ],
)
def test_lengths_of_time(minutes, shown):
    assert text.minutes_text(minutes) == shown


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("epinephrine push dose", "EPINEPHrine push dose"),
        ("norepinephrine infusion", "norepinephrine infusion"),
        ("Dopamine", "DOPamine"),
    ],
)
def test_tall_man_letters_come_from_the_data(name, shown):
    assert text.drug_text(name, {"epinephrine": "EPINEPHrine", "dopamine": "DOPamine"}) == shown


@pytest.mark.parametrize(
    ("route", "shown"), [("IN", "intranasal"), ("SC", "subcut"), ("IV", "IV"), ("IO", "IO"), ("IM", "IM"), ("PO", "PO")]
)
def test_routes_that_are_misread_are_written_as_words(route, shown):
    """The list of error-prone abbreviations: IN as IM or IV, SC as SL; PO, IV, IM are on no such list."""
    assert text.route_text(route) == shown


@given(st.fractions(min_value=Fraction(1, 10_000), max_value=1_000_000))
def test_no_number_ends_in_a_zero_after_the_point_or_begins_with_one(value):
    shown = text.number_text(value)

    assert not shown.startswith(".")
    assert "." not in shown or not shown.endswith(("0", "."))
    assert float(shown.replace(",", "")) == pytest.approx(float(value), rel=0.006)


@given(st.fractions(min_value=1, max_value=1_000_000))
def test_commas_stand_from_one_thousand_on(value):
    whole = text.number_text(value).split(".")[0]

    assert ("," in whole) == (len(whole.replace(",", "")) > 3)
