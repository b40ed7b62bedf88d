"""Alerts of the pressure itself: low now, or falling toward the goal."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.facts import Age, Dose, Goal
from dosing.load.reader import load_shipped
from dosing.watch.causes import LowAgain, low_again, watch
from dosing.watch.pressure import back_too_soon, low_pressure
from tests.copying import replace
from tests.dosing.cast import ADA, BEN, at, case, mean, push, reading

RULES = load_shipped("demonstration")
HURT = replace(ADA, age=Age(40, "years"), injuries=("head",))


def causes(*readings, **more):
    facts = case(*readings, **more)
    return [cause for cause in watch(facts, RULES, facts.last_contact_at).causes if cause.cause == "pressure"]


def two_minutes_apart(values):
    """Readings of these means; ``P`` is palpated, ``U`` unobtainable."""
    return [
        reading(2 * index, 110, bp_method="palpated")
        if value == "P"
        else reading(2 * index, bp_method="unobtainable")
        if value == "U"
        else mean(2 * index, value)
        for index, value in enumerate(values)
    ]


def alert(values, patient=ADA, **more):
    """The priority of a low pressure that stands after such readings."""
    found = [
        cause for cause in causes(*two_minutes_apart(values), patient=patient, **more) if cause.kind == "low_pressure"
    ]
    return found[0].priority if found else None


@pytest.mark.parametrize(
    ("values", "priority"),
    [
        ([], None),
        ([65], None),
        ([64], None),
        ([64, 63], "medium"),
        ([64, 66, 63], None),
        ([59], "high"),
        ([60], None),
        (["U"], "high"),
        ([90, 58], "high"),
        ([58, 62], "medium"),
        ([58, 62, 57], "high"),
        ([64, 63, 59], "high"),
    ],
)
def test_raised_by_one_critical_reading_or_two_below_the_goal(values, priority):
    assert alert(values) == priority


@pytest.mark.parametrize(
    ("patient", "pressures", "priority"),
    [
        # one systolic under 90 after a severe head injury doubled the deaths (Chesnut 1993, from memory)
        (HURT, [(84, 60)], "high"),
        (HURT, [(89, 60)], "high"),
        (HURT, [(90, 60)], None),
        (HURT, [(104, 70)], None),  # below the goal of 110: two in a row
        (HURT, [(104, 70), (106, 70)], "medium"),
        (replace(HURT, injuries=("torso",)), [(84, 60)], None),
        # a child's systolic under 70 + 2 x age: hypotension by the brain-injury guideline of 2003 (Kannan 2018, read)
        (replace(BEN, injuries=("head",)), [(79, 52)], "high"),
        (replace(BEN, injuries=("head",)), [(80, 52)], None),
        (BEN, [(79, 52)], None),
    ],
)
def test_with_a_head_injury_one_low_systolic_is_critical(patient, pressures, priority):
    found = causes(*(reading(2 * n, *each) for n, each in enumerate(pressures)), patient=patient)

    assert [cause.priority for cause in found if cause.kind == "low_pressure"] == [priority] * (priority is not None)


def test_a_goal_that_a_physician_sets_lower_takes_the_limit_of_a_head_injury_along():
    """Ten under the goal, as for everybody: 72 under a permitted 80, and 84 is no alarm then."""
    lower = {"patient": HURT, "goal": Goal(measure="sbp", floor=80)}
    assert [bool(causes(reading(0, sbp, 65), **lower)) for sbp in (84, 72, 69)] == [False, False, True]


@pytest.mark.parametrize(
    ("values", "priority"),
    [
        ([58, 65], "medium"),
        ([58, 69.9], "medium"),
        ([58, 70], None),
        ([58, 66, 66], None),
        ([58, 66, 64], "medium"),
        ([58, 66, 64, 66], "medium"),
        ([58, 66, 64, 66, 65], None),
        ([58, 70, 64], None),
        ([58, 70, 64, 64], None),  # what has just ended is no news so soon
        (["U", 66], "medium"),
        (["U", 80], None),
    ],
)
def test_cleared_by_one_reading_5_above_the_goal_or_two_at_it(values, priority):
    assert alert(values) == priority


@pytest.mark.parametrize(
    ("values", "priority"),
    [
        (["P"], None),
        ([58, "P"], "high"),
        ([58, "P", "P"], "high"),
        ([58, 66, "P"], "medium"),
        ([64, "P", 63], "medium"),
    ],
)
def test_a_palpated_pressure_that_is_not_low_neither_raises_nor_clears(values, priority):
    assert alert(values) == priority


@pytest.mark.parametrize(
    ("later", "values", "priority"),
    [
        (0, (64, 63), None),
        (3, (64, 63), None),
        (5.9, (64, 63), None),
        (6, (64, 63), "medium"),
        (20, (64, 63), "medium"),
        (0, (59,), "high"),
        (0, ("U",), "high"),
    ],
    ids=["soon", "within 10 min", "just within", "10 min after", "long after", "critical", "unobtainable"],
)
def test_a_low_pressure_that_has_ended_is_no_news_for_ten_minutes_unless_it_is_critical(later, values, priority):
    """Raised at 2 (64, 63), ended at 4 (72): from 14 on, by a reading then, the same is told again."""
    first = [mean(0, 64), mean(2, 63), mean(4, 72)]
    again = [
        reading(4 + later + 2 * number, bp_method="unobtainable")
        if value == "U"
        else mean(4 + later + 2 * number, value)
        for number, value in enumerate(values, start=1)
    ]
    found = [each for each in causes(*first, *again) if each.kind == "low_pressure"]

    assert [each.priority for each in found] == ([priority] if priority else [])
    told = low_again(case(*first, *again), RULES)
    assert told == (None if priority else LowAgain(at(4 + later + 2), at(14)))


def lows(*more, now):
    """What is raised at a time of a pressure that was low at 0 and 2, fine at 4, and low again at 6 and 8."""
    facts = case(*(mean(2 * number, value) for number, value in enumerate((64, 63, 72, 64, 63))), *more)
    return [(each.priority, each.since) for each in watch(facts, RULES, at(now)).causes if each.kind == "low_pressure"]


@pytest.mark.parametrize(
    ("more", "now", "raised"),
    [
        ((), 13.9, []),
        ((), 14, [("medium", at(14))]),
        ((), 18, [("medium", at(14))]),
        ((mean(15, 62),), 15, [("medium", at(14))]),
        ((mean(15, 66),), 15, [("medium", at(14))]),
        ((mean(13, 66),), 14, []),
        ((mean(15, 72),), 15, []),
        ((mean(12, 59),), 15, [("high", at(12))]),
    ],
    ids=[
        "too soon",
        "due",
        "nobody measures",
        "low still",
        "at goal once",
        "at goal before",
        "clearly fine",
        "critical",
    ],
)
def test_what_came_back_too_soon_is_raised_once_the_ten_minutes_are_over_though_nobody_enters_anything(
    more, now, raised
):
    assert lows(*more, now=now) == raised


def test_it_is_looked_at_again_when_the_ten_minutes_are_over():
    readings = (mean(2 * number, value) for number, value in enumerate((64, 63, 72, 64, 63)))
    assert watch(case(*readings, last_contact_at=at(13)), RULES, at(13.5)).next_at == at(14)


@pytest.mark.parametrize(
    "values",
    [(), (64, 63), (64, 63, 72), (64, 63, 72, 64), (64, 63, 72, 64, 66), (64, 63, 72, 64, 63, 72)],
    ids=["nothing", "low for the first time", "over", "low once", "low once and fine", "over again"],
)
def test_without_a_low_pressure_that_is_back_none_is_told(values):
    assert low_again(case(*(mean(index, value) for index, value in enumerate(values))), RULES) is None


@pytest.mark.parametrize("before", [(88, 84), (84, 88)], ids=["falling", "rising"])
@pytest.mark.parametrize(
    ("values", "priority"),
    [((79, 74.1), None), ((79, 74), "medium"), ((73, 73), "medium")],
    ids=["9.9 lower", "10 lower", "both lower"],
)
def test_unless_it_is_ten_lower_than_before(values, priority, before):
    """A goal of 90: low at 88 and 84, ended at 96; 74 is ten under the lowest."""
    goal = Goal(measure="map", floor=90)
    first = [mean(0, before[0]), mean(2, before[1]), mean(4, 96)]
    found = causes(*first, *(mean(6 + 2 * n, value) for n, value in enumerate(values)), goal=goal)

    assert [each.priority for each in found if each.kind == "low_pressure"] == ([priority] if priority else [])


@pytest.mark.parametrize("before", [(86, 85), (85, 86)], ids=["falling", "rising"])
def test_the_systolic_that_fell_by_ten_is_news_too(before):
    first = [reading(0, before[0], 66), reading(2, before[1], 66), reading(4, 97, 70)]
    again = [reading(6, 84, 66), reading(8, 75, 66)]

    assert not causes(*first, again[0], replace(again[1], sbp=76))
    assert [each.priority for each in causes(*first, *again)] == ["medium"]


def test_a_palpated_pressure_that_is_low_counts():
    palpated = [reading(minute, 80, bp_method="palpated") for minute in (0, 2)]

    assert causes(palpated[0]) == []
    assert [cause.text for cause in causes(*palpated)] == ["Systolic below goal 90"]


def test_a_systolic_must_be_well_above_its_own_goal_too():
    low = [reading(0, 82, 58), reading(2, 84, 58)]

    assert [cause.priority for cause in causes(*low)] == ["medium"]
    assert causes(*low, reading(4, 94, 65))
    assert not causes(*low, reading(4, 95, 65))


def test_readings_without_a_pressure_change_nothing():
    assert [cause.priority for cause in causes(mean(0, 58), *(reading(minute, hr=90) for minute in range(1, 7)))] == [
        "high"
    ]
    assert causes(mean(0, 58), reading(1, hr=90), mean(2, 80)) == []


def test_text_and_time_are_those_of_the_readings():
    (found,) = causes(mean(0, 62), mean(2, 61), mean(4, 54))

    assert (found.kind, found.priority, found.text, found.since) == (
        "low_pressure",
        "high",
        "MAP critical, goal 65",
        at(2),
    )


@pytest.mark.parametrize(
    ("newest", "text"),
    [
        ((82, 58), "Systolic below goal 90"),
        ((96, 52), "MAP not yet clear of goal 65: 70, or 1 more at goal, ends this"),  # MAP 66.7
        ((92, 66), "Systolic not yet clear of goal 90: 95, or 1 more at goal, ends this"),
    ],
)
def test_the_text_says_what_is_low_or_not_yet_far_enough_above_its_goal(newest, text):
    found = causes(reading(0, 82, 58), reading(2, 82, 58), reading(4, *newest))

    assert [(cause.priority, cause.text) for cause in found] == [("medium", text)]


def test_a_physicians_goal_moves_the_alert():
    assert alert([70, 70]) is None
    assert alert([70, 70], goal=Goal(measure="map", floor=80)) == "medium"
    assert alert([58, 52], goal=Goal(measure="map", floor=50)) is None


def test_a_childs_floor():
    assert alert([48, 48], patient=BEN) is None
    assert alert([47, 47], patient=BEN) == "medium"
    assert alert([35], patient=BEN) == "high"


@given(st.lists(st.sampled_from([50, 58, 61, 64, 65, 67, 71, 90, "P", "U"]), max_size=12))
def test_the_newest_reading_alone_settles_the_extremes(values):
    known = [value for value in values if value != "P"]
    found = alert(values)

    if known and known[-1] in (50, 58, "U"):
        assert found == "high"
    elif known and known[-1] in (71, 90):
        assert found is None
    else:
        assert found in (None, "medium")


@given(st.lists(st.sampled_from([50, 58, 61, 64, 65, 67, 71, 90, "P", "U"]), min_size=1, max_size=12))
def test_what_the_card_says_is_back_too_soon_is_what_the_alert_waits_for(values):
    told = case(*two_minutes_apart(values))

    low = low_pressure(told, RULES, told.readings[-1].taken_at)

    assert back_too_soon(told, RULES) == (low and low.again)


# ---- falling -------------------------------------------------------------------------------------------------------


def falling(readings, **more):
    return [cause.kind for cause in causes(*readings, **more)] == ["falling"]


def falls(*values, every=3.0):
    return [mean(every * index, value) for index, value in enumerate(values)]


@pytest.mark.parametrize(
    ("readings", "stands"),
    [
        (falls(80, 77, 74), True),
        (falls(80, 77), False),
        (falls(80, 77, 74, every=2.9), False),
        (falls(74.2, 72.1, 70), True),
        (falls(74.2, 72.2, 70.2), False),
        (falls(92, 86, 80), True),
        (falls(92, 86, 80, every=4), True),
        (falls(104, 98, 92, every=3), False),
        (falls(80, 77, 74, every=7.5), False),
        (falls(84, 74, 82, 72, 74), False),
        (falls(69, 66.5, 64), True),
        (falls(66, 64, 62), False),
    ],
    ids=[
        "falling",
        "two readings",
        "under six minutes",
        "slope 0.7",
        "slope under 0.7",
        "crossing in 7.5",
        "in 10",
        "in 13.5",
        "slope 0.4",
        "up and down",
        "just passed",
        "low already",
    ],
)
def test_falling(readings, stands):
    assert falling(readings) is stands


@pytest.mark.parametrize(
    ("values", "every", "stands"),
    [
        ((77, 73.5, 70), 5, True),
        ((77, 73.75, 70.5), 5, False),
        ((84, 78, 80, 72, 74), 3, True),
        ((80, 80, 80, 74, 68), 3, False),
    ],
    ids=["slope just 0.7", "slope 0.65", "8 of 10 pairs fall", "7 of 10, the rest level"],
)
def test_falling_at_its_limits(values, every, stands):
    readings = [reading(every * index, map_reported=value) for index, value in enumerate(values)]

    assert falling(readings) is stands


@pytest.mark.parametrize(("floor", "stands"), [(65, True), (60, False), (64, True), (63.9, False)])
def test_falling_toward_the_goal_that_the_physician_set(floor, stands):
    """From 74 by 1 mmHg a minute: 65 lies 9 min ahead, 64 just 10, 60 lies 14."""
    assert falling(falls(80, 77, 74), goal=Goal(measure="map", floor=floor)) is stands


def test_falling_looks_at_the_last_fifteen_minutes():
    old = [mean(-30, 70), mean(-25, 71)]

    assert falling([*old, *falls(80, 77, 74)])


@pytest.mark.parametrize(
    ("dose", "stands"),
    [
        (push(-4), True),
        (push(-3.9), False),
        (push(2), False),
        (push(6.5), False),
        (Dose(id="drip", treatment="norepinephrine-infusion", given_at=at(2), status="running"), True),
        (Dose(id="bolus", treatment="crystalloid-bolus", given_at=at(2)), True),
    ],
    ids=["ten minutes before", "less", "between", "after", "infusion", "fluid"],
)
def test_a_push_dose_that_wears_off_is_no_fall(dose, stands):
    assert falling(falls(80, 77, 74), doses=(dose,)) is stands


def test_one_alert_for_one_pressure():
    assert [cause.kind for cause in causes(*falls(70, 64, 59))] == ["low_pressure"]
