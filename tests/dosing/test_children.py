"""What is expected at which age, against the published tables and an independent implementation of the criteria."""

import numpy as np
import phoenix
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground import tables
from dosing.ground.facts import Age
from dosing.patient.children import (
    heart_rate_band,
    map_floor,
    map_one_point,
    map_two_points,
    shock_index_limit,
    systolic_critical,
    systolic_floor,
)
from tests.dosing.pressure_values import ROWS, numbers, params

CHILD_MONTHS = st.integers(0, 215)


@pytest.mark.parametrize("row", params(*(f"PHT-{n:03}" for n in (8, 11, 12, 14, 15, 17, 18, 23, 24))))
def test_systolic_floor_by_the_life_support_table(row):
    value = numbers(row["input"])[0]
    unit = "days" if "days" in row["input"] else "years"

    assert systolic_floor(Age(value, unit)) == float(row["expected"])


@pytest.mark.parametrize(
    ("age", "floor"),
    [
        (Age(0, "days"), 60),
        (Age(28, "days"), 60),
        (Age(29, "days"), 70),
        (Age(0, "months"), 60),
        (Age(1, "months"), 70),
        (Age(11, "months"), 70),
        (Age(364, "days"), 70),
        (Age(12, "months"), 72),
        (Age(1, "years"), 72),
        (Age(10, "years"), 90),
        (Age(131, "months"), 90),
        (Age(17, "years"), 90),
    ],
    ids=str,
)
def test_systolic_floor_at_the_ends_of_its_bands(age, floor):
    assert systolic_floor(age) == floor


@pytest.mark.parametrize("years", range(1, 11))
def test_systolic_floor_is_70_and_twice_the_years_from_1_to_10(years):
    assert ROWS["PHT-003"]["expected"] == "70 + 2*age"
    assert systolic_floor(Age(years, "years")) == 70 + 2 * years


@pytest.mark.parametrize("row", params(*(f"PMAP-{n:03}" for n in (4, 8, 9, 10, 11, 12))))
def test_map_floor_from_one_year(row):
    floor, _median = numbers(row["expected"])

    assert map_floor(Age(numbers(row["input"])[0], "years")) == floor


def test_map_floor_of_a_five_year_old_is_between_whole_numbers():
    assert "MAP floor 47.5" in ROWS["PMAP-035"]["expected"]
    assert map_floor(Age(5, "years")) == 47.5


BANDS = [
    ("PHX-001", 0, 1),
    ("PHX-002", 1, 12),
    ("PHX-003", 12, 24),
    ("PHX-004", 24, 60),
    ("PHX-005", 60, 144),
    ("PHX-006", 144, 216),
]


@pytest.mark.parametrize(("name", "first", "end"), BANDS)
def test_sepsis_criteria_at_both_ends_of_each_band(name, first, end):
    one, two = numbers(ROWS[name]["expected"])

    for months in (first, end - 1):
        assert (map_one_point(Age(months, "months")), map_two_points(Age(months, "months"))) == (one, two)


@pytest.mark.parametrize(("name", "first", "end"), BANDS)
def test_under_one_year_the_map_floor_is_the_one_point_band(name, first, end):
    if end <= 12:
        assert map_floor(Age(first, "months")) == numbers(ROWS[name]["expected"])[0]


@pytest.mark.parametrize("months", [0, 0.5, 1, 11, 12, 23, 24, 59, 60, 143, 144, 215])
def test_points_as_the_published_implementation_gives_them(months):
    age = Age(months, "months")

    for limit, points_under, points_at in ((map_one_point(age), 1, 0), (map_two_points(age), 2, 1)):
        got = phoenix.phoenix_cardiovascular(
            vasoactives=np.zeros(2),
            lactate=np.zeros(2),
            age=np.full(2, float(months)),
            map=np.array([float(limit) - 0.01, float(limit)]),
        )
        assert got.tolist() == [points_under, points_at]


def test_critical_systolic_is_exactly_0_85_of_its_floor():
    assert systolic_critical(Age(5, "years")) == 68
    assert systolic_critical(Age(10, "days")) == 51
    assert systolic_critical(Age(5, "years"), ("torso",)) == 68
    assert systolic_critical(Age(5, "years"), ("head",)) == systolic_floor(Age(5, "years")) == 80


@given(CHILD_MONTHS)
def test_critical_lies_under_the_floor_at_every_age(months):
    age = Age(months, "months")

    assert map_two_points(age) < map_floor(age)
    assert systolic_critical(age) < systolic_floor(age)


@given(CHILD_MONTHS, CHILD_MONTHS)
def test_floors_never_fall_as_a_child_grows(one, other):
    younger, older = (Age(months, "months") for months in sorted((one, other)))

    for floor in (systolic_floor, map_floor, map_two_points):
        assert floor(younger) <= floor(older)


@pytest.mark.parametrize(
    ("name", "ages"),
    [
        ("NV-001", [Age(0, "days"), Age(27, "days")]),
        ("NV-002", [Age(28, "days"), Age(1, "months"), Age(11, "months")]),
        ("NV-003", [Age(12, "months"), Age(2, "years")]),
        ("NV-004", [Age(3, "years"), Age(5, "years")]),
        ("NV-005", [Age(6, "years"), Age(11, "years")]),
        ("NV-006", [Age(12, "years"), Age(15, "years")]),
    ],
)
def test_heart_rate_awake_by_age(name, ages):
    low, high, *_asleep = numbers(ROWS[name]["expected"])

    assert [heart_rate_band(age) for age in ages] == [(low, high)] * len(ages)


def test_heart_rate_of_an_adult_of_unknown_age():
    assert heart_rate_band(None) == (60, 100)


@pytest.mark.parametrize(
    ("name", "ages"),
    [("SIPA-001", (4, 6)), ("SIPA-002", (7, 12)), ("SIPA-003", (13, 16)), ("SIPA-006", (17,)), ("SI-002", (18, 54))],
)
def test_shock_index_limit_by_age(name, ages):
    (limit,) = numbers(ROWS[name]["expected"])

    assert [float(shock_index_limit(Age(years, "years"))) for years in ages] == [limit] * len(ages)


def test_no_shock_index_limit_is_published_for_the_youngest():
    assert shock_index_limit(Age(3, "years")) is None


def test_of_somebody_whose_age_is_unknown_the_adults_shock_index_holds():
    assert shock_index_limit(None) == shock_index_limit(Age(40, "years")) == 1


@pytest.mark.parametrize(
    "name", ["ground/age_tables", "patient/unlikely", "patient/trend", "patient/weights", "patient/growth"]
)
def test_every_table_of_numbers_names_its_source(name):
    assert all(table["source"] and table["mark"] in tables.MARKS for table in tables.load(name).values())


def test_a_table_without_a_source_is_refused(tmp_path, monkeypatch):
    (tmp_path / "bare.toml").write_text("[limit]\nvalue = 3\n")
    monkeypatch.setattr(tables, "__file__", str(tmp_path / "ground" / "tables.py"))

    with pytest.raises(tables.TableFaultError, match=r"\[limit\]"):
        tables.load("bare")
