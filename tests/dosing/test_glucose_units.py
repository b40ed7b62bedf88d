"""A glucose in mmol/L is judged in mg/dL: 18 mg/dL to 1 mmol/L, exactly.

Worked by hand from the contract's factor; the molar mass of glucose gives 18.016, which the rows of the reference use.
"""

from fractions import Fraction

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.exact import exact
from dosing.ground.facts import Reading
from dosing.patient.unlikely import unlikely
from tests.copying import replace
from tests.dosing.cast import ADA, at, reading
from tests.dosing.dosing_values import ROWS, numbers

WORKED = {4: 72, 3.1: 55.8, 3.3: 59.4, 2.6: 46.8, 5.5: 99, 7.8: 140.4, 0.3: 5.4, 111: 1998, 10: 180}


@pytest.mark.parametrize(("sent", "mg_dl"), WORKED.items())
def test_worked_conversions(sent, mg_dl):
    assert reading(glucose_mmol_l=sent).glucose_mg_dl == mg_dl


def test_the_reference_agrees_to_what_is_shown():
    """To a whole mg/dL and a tenth of a mmol/L it makes no difference by which of the two factors."""
    to_mg_dl, to_mmol_l = ROWS["UNI-003"], ROWS["UNI-004"]

    sent, same = numbers(to_mg_dl["input"])[0], float(to_mg_dl["expected"])
    assert reading(glucose_mmol_l=sent).glucose_mg_dl == round(same)
    sent, same = numbers(to_mmol_l["input"])[0], float(to_mmol_l["expected"])
    assert reading(glucose_mmol_l=round(same, 1)).glucose_mg_dl == sent


@given(st.decimals("0.3", "111", places=2).map(float))
def test_every_value_is_converted_exactly_and_stays_so_when_it_is_kept(sent):
    """What was sent stands beside it; a set that is stored and read again, or copied, is the same."""
    found = Reading(taken_at=at(0), glucose_mmol_l=sent)
    kept = msgspec.json.decode(msgspec.json.encode(found), type=Reading)

    assert exact(found.glucose_mg_dl) == Fraction(str(sent)) * 18
    assert found.glucose_mmol_l == sent
    assert kept == replace(found, id="") == found


def test_a_glucose_in_mg_dl_is_not_touched():
    found = reading(glucose_mg_dl=72)

    assert (found.glucose_mg_dl, found.glucose_mmol_l) == (72, None)


@pytest.mark.parametrize(
    ("sent", "texts"),
    [
        ({"glucose_mmol_l": 1.2}, []),  # 21.6 mg/dL; asked back are under 20 and over 600
        ({"glucose_mmol_l": 1.1}, ["glucose 1.1 mmol/L (20 mg/dL)"]),  # 19.8
        ({"glucose_mmol_l": 33.3}, []),  # 599.4
        ({"glucose_mmol_l": 72}, ["glucose 72 mmol/L (1296 mg/dL): entered in mg/dL?"]),
        ({"glucose_mg_dl": 5.5}, ["glucose 5.5 mg/dL: entered in mmol/L? (99 mg/dL)"]),
    ],
)
def test_what_is_unlikely_is_asked_back_in_the_unit_that_was_sent(sent, texts):
    assert unlikely(reading(**sent), ADA) == texts
