"""The structures that are written out for the type checker hold what the table of measurements says."""

from __future__ import annotations

from typing import get_type_hints

import pytest

from consult.case.card import Point
from dosing.ground.facts import Number, Values
from dosing.ground.measurements import LANED, MEASUREMENTS, Measurement

NO_MEASUREMENTS = {"source"}


def test_a_set_of_vitals_holds_each_measurement() -> None:
    assert set(Values.__struct_fields__) - NO_MEASUREMENTS == {each.name for each in MEASUREMENTS}


@pytest.mark.parametrize("measurement", MEASUREMENTS, ids=lambda each: each.name)
def test_numbers_are_numbers_and_the_others_texts(measurement: Measurement) -> None:
    held = get_type_hints(Values)[measurement.name]

    if measurement.name != "gcs":  # which may come in its three parts
        assert held == (Number | None if measurement.range else str | None)


def test_what_has_a_lane_is_in_the_trend() -> None:
    assert set(Point.__struct_fields__) == {
        *("t", "sbp", "dbp", "map", "map_from", "bp_method"),
        *(each.name for each in LANED),
    }
