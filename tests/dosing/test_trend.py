"""The slope of the MAP and when it will pass its goal."""

from datetime import timedelta
from itertools import combinations
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.facts import Reading
from dosing.patient.trend import crossing_at, slope
from tests.dosing.cast import at, mean, reading


def series(*values, every=2.0):
    return [mean(index * every, value) for index, value in enumerate(values)]


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        (series(80, 78, 76, 74), -1),
        (series(60, 63, 66), 1.5),
        (series(70, 70, 70), 0),
        (series(80, 78, 20, 74, 72), -1),
        (series(80, 79, every=2), None),
        ([], None),
        ([mean(0, 80)] * 3, None),
        ([mean(0, 200), mean(10, 80), mean(15, 75), mean(20, 70)], -1),
        ([mean(0, 90), mean(9.99, 80), mean(15, 75), mean(20, 70)], None),
        (
            [*series(80, 78, 76)[:2], reading(3, 88, bp_method="palpated"), reading(4, hr=90), *series(80, 78, 76)[2:]],
            -1,
        ),
    ],
    ids=["falling", "rising", "level", "one odd", "two", "none", "same moment", "window", "too old", "others skipped"],
)
def test_slope_over_the_ten_minutes_before_the_newest_reading(readings, expected):
    got = slope(readings)

    assert got == (None if expected is None else pytest.approx(expected, abs=1e-6))


@given(
    st.lists(
        st.tuples(st.integers(0, 600), st.integers(20, 150)), min_size=3, max_size=15, unique_by=lambda each: each[0]
    )
)
def test_slope_is_the_median_of_all_pair_slopes(measured):
    measured = sorted(measured)
    readings = [Reading(taken_at=at(0) + timedelta(seconds=second), map_reported=value) for second, value in measured]
    pairs = [60 * (b[1] - a[1]) / (b[0] - a[0]) for a, b in combinations(measured, 2)]

    assert slope(readings) == pytest.approx(median(pairs))


@given(
    st.lists(
        st.tuples(st.integers(0, 600), st.integers(20, 150)), min_size=3, max_size=20, unique_by=lambda each: each[0]
    )
)
def test_slope_is_the_theil_sen_estimate_of_another_library(measured):
    """scipy.stats.theilslopes; times in minutes, as the slope is per minute."""
    from scipy.stats import theilslopes  # so large that only who runs this should wait for it

    measured = sorted(measured)
    readings = [Reading(taken_at=at(0) + timedelta(seconds=second), map_reported=value) for second, value in measured]
    minutes, values = [second / 60 for second, _ in measured], [value for _, value in measured]

    assert slope(readings) == pytest.approx(theilslopes(values, minutes).slope)


@pytest.mark.parametrize(
    ("readings", "floor", "minutes"),
    [
        (series(80, 78, 76, 74), 65, 6 + 9),
        (series(71, 69, 67, 65), 65, 6),
        (series(71, 69, 67, 64), 65, None),
        (series(80, 81, 82), 65, None),
        (series(80, 80, 80), 65, None),
        (series(80, 79.9, 79.8), 65, None),
        (series(80, 78), 65, None),
        (series(80, 78, 76, 74), 80, None),
    ],
    ids=["nine minutes on", "now", "passed", "rising", "level", "days ahead", "no trend", "under it"],
)
def test_when_the_line_passes_the_goal(readings, floor, minutes):
    got = crossing_at(readings, floor, slope(readings))

    if minutes is None:
        assert got is None
    else:
        assert abs(got - at(minutes)) < timedelta(seconds=1)


@pytest.mark.parametrize(
    ("last", "minutes"), [(65, 4), (125, 64), (125.5, None)], ids=["at the goal", "in an hour", "later"]
)
def test_crossing_at_the_ends_of_its_hour(last, minutes):
    readings = [Reading(taken_at=at(minute), map_reported=last + 4 - minute) for minute in (0, 2, 4)]

    assert crossing_at(readings, 65, slope(readings)) == (None if minutes is None else at(minutes))


@given(st.integers(-300, -10), st.integers(66, 120))
def test_a_straight_fall_crosses_where_the_line_does(tenths, start):
    rate = tenths / 100
    readings = [Reading(taken_at=at(minute), map_reported=start + rate * minute) for minute in range(0, 10, 2)]
    minutes = (65 - start) / rate

    got = crossing_at(readings, 65, slope(readings))

    assert (got is not None) == (8 <= minutes <= 68)
    assert got is None or abs(got - at(minutes)) < timedelta(seconds=1)
