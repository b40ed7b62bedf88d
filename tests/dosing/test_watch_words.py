"""What a low-pressure alert says: never a number that the next reading makes old."""

from datetime import UTC, datetime, timedelta

import pytest

from dosing.ground.facts import Age, Facts, Goal, Patient, Reading
from dosing.load import reader
from dosing.watch.pressure import low_pressure

RULES = reader.load_shipped("demonstration")
START = datetime(2030, 1, 5, 10, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("readings", "text"),
    [
        ([{"sbp": 96, "dbp": 44}] * 2, "MAP below goal 65"),
        ([{"sbp": 70, "dbp": 30}], "MAP critical, goal 65"),
        ([{"sbp": 68, "bp_method": "palpated"}], "Systolic critical, goal 90"),
        ([{"bp_method": "unobtainable", "pulses": "carotid"}], "pressure not obtainable, carotid pulse felt"),
        ([{"sbp": 70, "dbp": 30}, {"sbp": 96, "dbp": 44}], "MAP below goal 65"),
    ],
    ids=["below", "critical", "palpated", "none to be had", "better, not yet well"],
)
def test_it_names_the_state_and_the_goal(readings, text):
    taken = tuple(Reading(taken_at=START + timedelta(minutes=n), **values) for n, values in enumerate(readings))
    facts = Facts(patient=Patient(age=Age(58, "years")), opened_at=START, readings=taken)

    low = low_pressure(facts, RULES, taken[-1].taken_at)
    assert low is not None
    assert low.text == text


def test_a_goal_that_the_physician_set_is_named():
    taken = (Reading(taken_at=START, sbp=104, dbp=53), Reading(taken_at=START + timedelta(minutes=1), sbp=104, dbp=53))
    goal = Goal(measure="map", floor=80, because="head injury")
    facts = Facts(patient=Patient(age=Age(58, "years")), opened_at=START, readings=taken, goal=goal)
    low = low_pressure(facts, RULES, taken[-1].taken_at)

    assert low is not None
    assert low.text == "MAP below goal 80"
