"""Depth times minutes below the goal: trapezoids between readings, gaps that are not joined.

The measure is that of Spaite et al., Ann Emerg Med 2017;70:522 (DDD-001); the area is held against numpy's trapezoid.
"""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.facts import Goal, Reading
from dosing.patient import below_goal as measure
from dosing.patient.goals import InForce
from tests.dosing.cast import at, mean, reading

MAP65 = Goal(measure="map", floor=65)
SBP90 = Goal(measure="sbp", floor=90)


def below_goal(readings, goal):
    """Held against one goal from the beginning on."""
    return measure.below_goal(readings, [InForce(None, goal, pulse=True)])


def maps(*values, every=2.0):
    return [Reading(taken_at=at(index * every), map_reported=value) for index, value in enumerate(values)]


def later(start, *values):
    return [Reading(taken_at=at(start + 2 * index), map_reported=value) for index, value in enumerate(values)]


def measured(readings, goal=MAP65):
    got = below_goal(readings, goal)
    return None if got is None else (got.mmhg_min, got.minutes, got.measured_min, got.gap_min)


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        ([], None),
        (maps(50), None),
        (maps(55, 55), (20, 2, 2, 0)),
        (maps(65, 55), (10, 2, 2, 0)),
        (maps(75, 55), (5, 1, 2, 0)),
        (maps(55, 75), (5, 1, 2, 0)),
        (maps(70, 70), (0, 0, 2, 0)),
        (maps(65, 65), (0, 0, 2, 0)),
        (maps(85, 60, 60), (1 / 5 * 2 * 2.5 + 10, 0.4 + 2, 4, 0)),
        (maps(64.5, 55), (10.5, 2, 2, 0)),
        (maps(60, 50, every=10), (100, 10, 10, 0)),
        (maps(60, 50, every=10.1), (0, 0, 0, 10.1)),
        ([*maps(55, 55), Reading(taken_at=at(30), map_reported=55)], (20, 2, 2, 28)),
        ([*maps(55, 55), reading(3, bp_method="unobtainable"), *later(4, 55, 55)], (40, 4, 4, 2)),
        ([mean(0, 55), reading(3, bp_method="unobtainable")], None),
        ([mean(0, 55), reading(1, hr=90), mean(2, 55)], (20, 2, 2, 0)),
    ],
    ids=[
        "nothing",
        "one",
        "below",
        "from the goal down",
        "crossing down",
        "crossing up",
        "above",
        "at the goal",
        "crossing, then below",
        "half a mmHg below, then more",
        "ten minutes apart",
        "a gap",
        "a gap after",
        "not to be had between",
        "not to be had",
        "rate alone between",
    ],
)
def test_area_and_times(readings, expected):
    """By hand: triangles and trapezoids."""
    got = measured(readings)

    assert got == (None if expected is None else pytest.approx(expected))


def test_the_goals_own_measure_decides():
    """Systolic 80 under 90 for 4 min is 40 mmHg min; the MAP of the same readings stands well above 65."""
    readings = [reading(0, 80, 70), reading(4, 80, 70)]

    assert measured(readings, SBP90) == (40, 4, 4, 0)
    assert measured(readings, MAP65) == (0, 0, 4, 0)


def test_a_palpated_pressure_counts_for_the_systolic_alone():
    readings = [reading(0, 80, bp_method="palpated"), reading(4, 80, bp_method="palpated")]

    assert measured(readings, SBP90) == (40, 4, 4, 0)
    assert measured(readings, MAP65) is None


def test_it_begins_with_the_first_reading_at_hand():
    assert below_goal([reading(0, hr=90), mean(3, 60), mean(5, 60)], MAP65).since == at(3)
    assert below_goal(maps(55, 55), MAP65).as_dict() == {
        "mmhg_min": 20,
        "minutes": 2,
        "measured_min": 2,
        "gap_min": 0,
        "since": at(0),
        "until": at(2),
        "floors": (65,),
    }


def test_the_card_shows_two_decimals():
    """20 s from 60 to 50, ten below on average: 3.333 mmHg min; then 11 min 40 s that are not joined."""
    readings = [*maps(60, 50, every=1 / 3), Reading(taken_at=at(12), map_reported=70)]

    assert below_goal(readings, MAP65).as_dict() == {
        "mmhg_min": 3.33,
        "minutes": 0.33,
        "measured_min": 0.33,
        "gap_min": 11.67,
        "since": at(0),
        "until": at(1 / 3),
        "floors": (65,),
    }


def held_against(readings, *goals):
    got = measure.below_goal(readings, [InForce(since, goal, pulse) for since, goal, pulse in goals])
    return got.mmhg_min, got.minutes, got.measured_min, got.gap_min, got.floors


MAP80 = Goal(measure="map", floor=80)


@pytest.mark.parametrize(
    ("goals", "expected"),
    [
        ([(None, MAP80, True)], (100, 10, 10, 0, (80,))),
        ([(None, MAP65, True), (at(5), MAP80, True)], (50, 5, 10, 0, (65, 80))),
        ([(None, MAP80, True), (at(5), MAP65, True)], (50, 5, 10, 0, (80, 65))),
        ([(None, MAP80, True), (at(5), SBP90, True)], (50, 5, 10, 0, (80, 90))),
        ([(None, MAP80, True), (at(2), MAP80, False), (at(3), MAP80, True)], (60, 6, 6, 4, (80,))),
    ],
    ids=["one", "raised", "lowered", "of the other measure", "an arrest between two readings"],
)
def test_each_minute_counts_against_the_goal_in_force_then(goals, expected):
    """By hand: MAP 70 and systolic 100 all along, at 0, 4 and 10 min; 80 is missed by 10, the others met."""
    readings = [Reading(taken_at=at(minute), sbp=100, map_reported=70, bp_method="arterial") for minute in (0, 4, 10)]
    assert held_against(readings, *goals) == expected


def test_a_line_is_cut_where_the_goal_changes():
    """By hand: from 60 to 80 in 10 min it is 70 at 5 min: under 65 for 2.5 min by 2.5, then under 75 for 2.5 by 2.5."""
    got = held_against(maps(60, 80, every=10), (None, MAP65, True), (at(5), Goal(measure="map", floor=75), True))
    assert got[:3] == (12.5, 5, 10)


LINES = st.lists(st.tuples(st.integers(1, 600), st.integers(20, 110)), min_size=1, max_size=15)


def series(steps):
    """Readings some seconds apart."""
    seconds = np.cumsum([step for step, _ in steps]).tolist()
    return [
        Reading(taken_at=at(second / 60), map_reported=value) for second, (_, value) in zip(seconds, steps, strict=True)
    ]


@given(LINES)
def test_the_area_is_that_of_a_fine_trapezoid(steps):
    """numpy over each line at a thousandth of its length."""
    readings = series(steps)
    if len(readings) < 2:
        return
    minutes = np.array([(each.taken_at - at(0)).total_seconds() / 60 for each in readings])
    fine = np.unique(np.concatenate([np.linspace(a, b, 1001) for a, b in pairwise(minutes)]))
    depth = np.maximum(65 - np.interp(fine, minutes, [each.map_reported for each in readings]), 0)

    assert below_goal(readings, MAP65).mmhg_min == pytest.approx(np.trapezoid(depth, fine), abs=0.05, rel=1e-3)


@given(LINES, st.integers(0, 14))
def test_it_adds_up_over_any_reading(steps, place):
    readings = series(steps)
    parts = [below_goal(part, MAP65) for part in (readings[: place + 1], readings[place:])]
    whole = below_goal(readings, MAP65)

    if whole is not None:
        assert whole.mmhg_min == pytest.approx(sum(part.mmhg_min for part in parts if part))


@given(LINES, st.integers(40, 90), st.integers(0, 20))
def test_a_higher_goal_is_never_less_deep_nor_shorter(steps, floor, more):
    low, high = (below_goal(series(steps), Goal(measure="map", floor=each)) for each in (floor, floor + more))

    if low is not None:
        assert low.mmhg_min <= high.mmhg_min + 1e-9
        assert 0 <= low.minutes <= high.minutes + 1e-9 <= high.measured_min + 2e-9


@pytest.mark.parametrize(
    ("readings", "until"),
    [
        (maps(55, 55, 55), 4),
        ([*maps(55, 55), mean(30, 55)], 2),
        ([*maps(55, 55), mean(30, 55), mean(31, 55)], 31),
        ([mean(0, 55), mean(30, 55)], None),
    ],
    ids=["all joined", "a last one too late", "joined again", "none joined"],
)
def test_nothing_counts_after_the_last_reading_that_was_joined(readings, until):
    assert below_goal(readings, MAP65).until == (None if until is None else at(until))
