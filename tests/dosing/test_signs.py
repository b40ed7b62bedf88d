"""What besides the pressure speaks for poor perfusion."""

import pytest

from dosing.patient.signs import gcs_total, signs
from tests.dosing.cast import ADA, BEN, NOA, UNKNOWN, child, reading
from tests.dosing.pressure_values import ROWS, numbers, params


@pytest.mark.parametrize(
    ("measured", "text"),
    [
        ({"cap_refill_s": 3}, "cap refill 3 s"),
        ({"cap_refill_s": 4.5}, "cap refill 4.5 s"),
        ({"avpu": "V"}, "responds to voice only"),
        ({"avpu": "P"}, "responds to pain only"),
        ({"avpu": "U"}, "unresponsive"),
        ({"gcs": 14}, "GCS 14"),
        ({"gcs": {"eye": 3, "verbal": 4, "motor": 6}}, "GCS 13"),
        ({"gcs": {"eye": 3, "motor": 5}}, "GCS eye 3, motor 5"),
        ({"lactate_mmol_l": 2}, "lactate 2 mmol/L"),
        ({"lactate_mmol_l": 3.1}, "lactate 3.1 mmol/L"),
        ({"hr": 101}, "heart rate 101"),
        ({"hr": 59}, "heart rate 59"),
        ({"hr": 59.6}, "heart rate 59.6"),
        ({"hr": 100.4}, "heart rate 100.4"),
    ],
)
def test_a_sign(measured, text):
    assert signs(reading(**measured), ADA) == [text]


@pytest.mark.parametrize(
    "measured",
    [
        {},
        {"cap_refill_s": 2.9},
        {"avpu": "A"},
        {"gcs": 15},
        {"gcs": {"eye": 4, "verbal": 5, "motor": 6}},
        {"gcs": {"eye": 4, "motor": 6}},
        {"lactate_mmol_l": 1.99},
        {"hr": 60},
        {"hr": 100},
        {"sbp": 100, "hr": 100},
    ],
)
def test_no_sign(measured):
    assert signs(reading(**measured), ADA) == []


@pytest.mark.parametrize("row", params("GCS-003", "GCS-004", "GCS-005", "GCS-006"))
def test_gcs_is_a_sum(row):
    eye, verbal, motor = (int(number) for number in numbers(row["input"]))

    assert gcs_total({"eye": eye, "verbal": verbal, "motor": motor}) == int(row["expected"])


def test_a_part_that_cannot_be_tested_leaves_no_sum():
    assert "not summed" in ROWS["GCS-007"]["expected"]
    assert gcs_total({"eye": 3, "motor": 5}) is None


@pytest.mark.parametrize(
    ("name", "elevated"), [("SIPA-007", True), ("SIPA-008", False), ("SIPA-009", False), ("SIPA-010", False)]
)
def test_shock_index_of_a_child(name, elevated):
    years, hr, sbp = numbers(ROWS[name]["input"])
    found = signs(reading(0, sbp, hr=hr), child(years))

    assert any(text.startswith("shock index") for text in found) is elevated


@pytest.mark.parametrize(
    ("hr", "sbp", "text"),
    [(130, 70, "shock index 1.86"), (120, 80, "shock index 1.5"), (901, 900, "shock index 1.001"), (90, 90, None)],
)
def test_shock_index_of_an_adult_is_elevated_above_1(hr, sbp, text):
    found = [sign for sign in signs(reading(0, sbp, hr=hr), UNKNOWN) if sign.startswith("shock")]

    assert found == ([text] if text else [])


@pytest.mark.parametrize(
    ("patient", "hr", "unusual"), [(BEN, 120, False), (BEN, 121, True), (NOA, 200, False), (NOA, 99, True)]
)
def test_heart_rate_by_the_childs_age(patient, hr, unusual):
    assert signs(reading(hr=hr), patient) == ([f"heart rate {hr}"] if unusual else [])


def test_signs_stand_in_the_order_of_the_contract():
    worst = reading(0, 80, 40, hr=130, cap_refill_s=5, avpu="P", lactate_mmol_l=6)

    assert signs(worst, ADA) == [
        "cap refill 5 s",
        "responds to pain only",
        "shock index 1.63",
        "lactate 6 mmol/L",
        "heart rate 130",
    ]
