"""The signs of a case by the newest value of each measurement; the minutes are our choice (`age_tables.toml`)."""

from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import asdict

from dosing.ground.facts import Facts, Latest, Reading
from dosing.patient.signs import signs_of_case
from tests.dosing.cast import ADA, at, case, reading

UNKNOWN_AS = {"id": "", "taken_at": None}


def taken(*sets: Reading) -> Facts:
    """A case of these sets, oldest first, with each measurement's newest value."""
    latest: dict[str, Latest] = {}
    for each in sets:
        values: dict[str, Any] = {name: value for name, value in asdict(each).items() if name not in UNKNOWN_AS}
        latest |= {name: Latest(value, each.taken_at) for name, value in values.items() if value is not None}
    return case(*sets, latest=latest)


def test_a_quick_pressure_hides_no_sign():
    found = signs_of_case(taken(reading(0, 100, 60, cap_refill_s=5), reading(6, 100, 60)))

    assert found.present == ("cap refill 5 s, 6 min before",)
    assert found.taken_at == {"cap refill 5 s, 6 min before": ("cap refill 5 s", at(0))}
    assert not found.old


ROWS = [
    # measured first, how many minutes before the newest pressure, what stands, what is told as not measured since
    ({"cap_refill_s": 5}, 0, ["cap refill 5 s"], []),
    ({"cap_refill_s": 5}, 0.9, ["cap refill 5 s"], []),
    ({"cap_refill_s": 5}, 1, ["cap refill 5 s, 1 min before"], []),
    ({"cap_refill_s": 5}, 10, ["cap refill 5 s, 10 min before"], []),
    ({"cap_refill_s": 5}, 10.1, [], ["cap refill 5 s, 10 min before"]),
    ({"avpu": "P"}, 4, ["responds to pain only, 4 min before"], []),
    ({"gcs": 9}, 25, [], ["GCS 9, 25 min before"]),
    ({"hr": 140}, 3, ["heart rate 140, 3 min before"], []),
    ({"lactate_mmol_l": 3.4}, 47, ["lactate 3.4 mmol/L, 47 min before"], []),
    ({"lactate_mmol_l": 3.4}, 121, [], ["lactate 3.4 mmol/L, 2 h 1 min before"]),
    ({"cap_refill_s": 2, "avpu": "A", "gcs": 15, "lactate_mmol_l": 1}, 30, [], []),
]


@pytest.mark.parametrize(("measured", "minutes", "present", "old"), ROWS)
def test_a_sign_older_than_the_pressure_says_how_much_and_is_never_lost(measured, minutes, present, old):
    found = signs_of_case(taken(reading(0, **measured), reading(minutes, 100, 60)))

    assert (list(found.present), list(found.old)) == (present, old)


def test_a_newer_value_replaces_an_older_one():
    found = signs_of_case(taken(reading(0, cap_refill_s=5, hr=140), reading(5, 100, 60, cap_refill_s=2, hr=90)))

    assert not found.present
    assert not found.old


def test_a_sign_newer_than_the_pressure_has_no_age_beside_it_until_it_no_longer_counts():
    sets = reading(0, 100, 60), reading(2, cap_refill_s=4)

    assert signs_of_case(taken(*sets, reading(11, spo2=96))).present == ("cap refill 4 s",)
    assert signs_of_case(taken(*sets, reading(14, spo2=96))).old == ("cap refill 4 s, 12 min before",)


def test_a_sign_of_the_pressures_own_set_has_no_age_beside_it():
    found = signs_of_case(taken(reading(0, 100, 60, cap_refill_s=5), reading(3, spo2=96)))

    assert found.present == ("cap refill 5 s",)


def test_without_any_pressure_a_sign_says_how_much_older_it_is_than_the_newest_set():
    found = signs_of_case(taken(reading(0, cap_refill_s=5), reading(3, spo2=96)))

    assert found.present == ("cap refill 5 s, 3 min before",)


class TestTheShockIndexIsOfOneSet:
    def test_never_of_a_heart_rate_and_a_pressure_of_two_sets(self):
        assert signs_of_case(taken(reading(0, hr=98), reading(1, 60, 40))).present == ()

    def test_of_the_newest_set_that_holds_both(self):
        found = signs_of_case(taken(reading(0, 70, 40, hr=98), reading(3, 90, 50)))

        assert found.present == ("shock index 1.4, 3 min before",)

    def test_of_which_heart_rate_where_a_newer_one_stands_beside_it(self):
        """109/80 is 1.36; the 107 that came after would make 1.34."""
        found = signs_of_case(taken(reading(0, 80, 50, hr=109), reading(1, hr=107)))

        assert found.present == ("shock index 1.36 with HR 109", "heart rate 107")

    def test_of_the_newest_one_alone(self):
        found = signs_of_case(taken(reading(0, 60, 40, hr=99), reading(3, 70, 40, hr=98)))

        assert found.present == ("shock index 1.4",)


class TestAlertness:
    def test_a_newer_score_replaces_the_coarser_letter(self):
        found = signs_of_case(taken(reading(0, avpu="V"), reading(3, 100, 60, gcs=15)))

        assert found.present == ()

    def test_both_of_one_set_are_told(self):
        assert signs_of_case(taken(reading(0, avpu="V", gcs=12))).present == ("responds to voice only", "GCS 12")

    def test_a_newer_letter_leaves_the_score_beside_it(self):
        """A is said of 14 as of 15, so that it does not end a score of 14."""
        found = signs_of_case(taken(reading(0, gcs=14), reading(3, 100, 60, avpu="A")))

        assert found.present == ("GCS 14, 3 min before",)

    def test_a_score_that_cannot_be_summed_replaces_nothing(self):
        found = signs_of_case(taken(reading(0, avpu="V"), reading(3, 100, 60, gcs={"eye": 4, "motor": 6})))

        assert found.present == ("responds to voice only, 3 min before",)


def test_without_any_measurement_there_is_no_sign():
    assert signs_of_case(case(patient=ADA)).present == ()
