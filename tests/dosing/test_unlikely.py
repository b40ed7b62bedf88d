"""Measurable values that a page asks back once."""

import pytest

from dosing.patient.unlikely import unlikely
from tests.dosing.cast import ADA, reading
from tests.dosing.pressure_values import ROWS, numbers

FIELDS = {
    "PLA-019": "sbp",
    "PLA-021": "hr",
    "PLA-022": "rr",
    "PLA-025": "temp_c",
    "PLA-026": "glucose_mg_dl",
}


@pytest.mark.parametrize(("name", "field"), FIELDS.items())
def test_outside_the_proposed_bounds_is_asked_back_and_on_them_is_not(name, field):
    _hard_least, _hard_most, least, most = numbers(ROWS[name]["expected"])

    assert [unlikely(reading(**{field: value}), ADA) for value in (least, most)] == [[], []]
    assert all(len(unlikely(reading(**{field: value}), ADA)) == 1 for value in (least - 0.1, most + 0.1))


def test_diastolic_bounds():
    _hard_least, _hard_most, least, most = numbers(ROWS["PLA-020"]["expected"])

    assert unlikely(reading(0, 200, most), ADA) == unlikely(reading(0, 60, least), ADA) == []
    assert unlikely(reading(0, 200, most + 1), ADA) == ["diastolic 161 mmHg"]
    assert unlikely(reading(0, 60, least - 1), ADA) == ["diastolic 14 mmHg"]


@pytest.mark.parametrize(
    ("measured", "texts"),
    [
        ({"spo2": 50}, []),
        ({"spo2": 49}, ["SpO2 49 %"]),
        ({"etco2": 101}, ["EtCO2 101 mmHg"]),
        ({"sbp": 60, "dbp": 50}, []),
        ({"sbp": 60, "dbp": 51}, ["pulse pressure 9 mmHg"]),
        ({"sbp": 60.05, "dbp": 50.05}, []),
        ({"sbp": 60.04, "dbp": 50.05}, ["pulse pressure 9.99 mmHg"]),
        ({"sbp": 190, "dbp": 40}, []),
        ({"sbp": 191, "dbp": 40}, ["pulse pressure 151 mmHg"]),
        ({"sbp": 95, "dbp": 50, "map_reported": 75}, []),
        ({"sbp": 95, "dbp": 50, "map_reported": 55}, []),
        ({"sbp": 95, "dbp": 50, "map_reported": 76}, ["reported MAP 76, computed 65"]),
        ({"sbp": 96, "dbp": 44, "map_reported": 51.3}, ["reported MAP 51.3, computed 61"]),
    ],
)
def test_what_the_contract_asks_back(measured, texts):
    assert unlikely(reading(**measured), ADA) == texts


def test_a_heart_rate_of_zero_with_a_pressure():
    assert ROWS["PLA-030"]["expected"] == "confirm (pulseless?)"
    assert unlikely(reading(0, 90, hr=0), ADA) == ["heart rate 0 a minute", "heart rate 0 with a pressure: pulseless?"]


@pytest.mark.parametrize(
    ("name", "field", "value", "text"),
    [
        ("PLA-033", "glucose_mg_dl", 5.5, "glucose 5.5 mg/dL: entered in mmol/L? (99 mg/dL)"),
        ("PLA-034", "etco2", 5.3, "EtCO2 5.3 mmHg: entered in kPa? (40 mmHg)"),
    ],
)
def test_a_value_in_another_unit_is_recognized(name, field, value, text):
    assert numbers(ROWS[name]["expected"])[-1] == numbers(text)[-1]
    assert unlikely(reading(**{field: value}), ADA) == [text]


def test_a_usual_set_is_asked_nothing():
    assert unlikely(reading(0, 120, 80, hr=80, rr=16, spo2=97, etco2=38, temp_c=37, glucose_mg_dl=100), ADA) == []
