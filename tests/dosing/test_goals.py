"""Which pressure is aimed at, for whom: the rule set's goals, the physician's, a child's age."""

from fractions import Fraction

import pytest

from dosing.ground.facts import Age, FormerAims, Goal, Patient
from dosing.ground.phases import PHASES, PhaseChange
from dosing.load.reader import load_shipped
from dosing.patient import goals
from dosing.patient.goals import NoGoalError, PressureLimits, goal_for, goals_in_force, limits_for
from dosing.patient.pressure import judge
from tests.copying import replace
from tests.dosing.cast import ADA, BEN, UNKNOWN, at, case, reading
from tests.dosing.pressure_values import ROWS, numbers

RULES = load_shipped("demonstration")


def adult(years=40, **more):
    return Patient(age=Age(years, "years"), **more)


def floors(patient, impression="undifferentiated", goal=None):
    """The floors in force, MAP and systolic."""
    found = goal_for(case(patient=patient, impression=impression, goal=goal), RULES)
    limits = limits_for(patient, found, RULES)
    return limits.map_floor, limits.sbp_floor


TRAUMA = {"bleeding_cause": "trauma"}


@pytest.mark.parametrize(
    ("patient", "impression", "map_floor", "sbp_floor"),
    [
        (ADA, "septic", 65, 90),
        (UNKNOWN, "undifferentiated", 65, 90),
        (adult(**TRAUMA), "hemorrhagic", 50, 80),
        (adult(bleeding_cause="gut"), "hemorrhagic", 65, 90),
        (adult(), "hemorrhagic", 65, 90),
        (adult(**TRAUMA), "septic", 65, 90),
        (adult(injuries=("torso",), **TRAUMA), "hemorrhagic", 50, 80),
        (adult(injuries=("head",)), "undifferentiated", 65, 110),
        (adult(50, injuries=("head",)), "undifferentiated", 65, 100),
        (adult(69, injuries=("head",)), "undifferentiated", 65, 100),
        (adult(70, injuries=("head",)), "undifferentiated", 65, 110),
        (Patient(injuries=("head",)), "undifferentiated", 65, 110),
        (adult(injuries=("head", "torso"), **TRAUMA), "hemorrhagic", 80, 110),
        (adult(injuries=("spinal_cord",)), "neurogenic", 75, 90),
        (adult(injuries=("spinal_cord",), **TRAUMA), "hemorrhagic", 75, 90),
        (BEN, "septic", 47.5, 80),
        (replace(BEN, injuries=("head",)), "undifferentiated", 47.5, 80),
    ],
)
def test_floors_by_impression_and_injuries(patient, impression, map_floor, sbp_floor):
    assert floors(patient, impression) == (map_floor, sbp_floor)


def test_the_adult_goals_are_the_published_ones():
    assert floors(ADA)[0] == numbers(ROWS["TGT-001"]["expected"])[0]
    assert floors(adult(injuries=("head",)))[1] == numbers(ROWS["TGT-006"]["expected"])[0]
    assert floors(adult(55, injuries=("head",)))[1] == 100
    assert floors(adult(injuries=("head",), **TRAUMA), "hemorrhagic")[0] == numbers(ROWS["TGT-007"]["expected"])[0]
    systolic, _, mean, _ = numbers(ROWS["TGT-008"]["expected"])
    assert floors(adult(**TRAUMA), "hemorrhagic") == (mean, systolic)


def test_the_goal_says_why():
    found = goal_for(case(patient=adult(**TRAUMA), impression="hemorrhagic"), RULES)

    assert (found.measure, found.floor, found.other_floor) == ("sbp", 80, 50)
    assert "bleeding" in found.because


def test_an_adults_goal_is_the_mean_pressure():
    """Adult sepsis guideline: MAP 65 first; systolic 90 beside it."""
    assert goal_for(case(patient=ADA), RULES) == Goal(measure="map", floor=65, because="adult", other_floor=90)


def test_a_childs_goal_is_its_systolic_floor():
    found = goal_for(case(patient=BEN), RULES)

    assert found == Goal(measure="sbp", floor=80, because="lowest for the age", other_floor=47.5)


@pytest.mark.parametrize(
    ("goal", "patient", "impression", "expected"),
    [
        (Goal(measure="map", floor=80), ADA, "septic", (80, 90)),
        (Goal(measure="sbp", floor=110), ADA, "septic", (65, 110)),
        (Goal(measure="map", floor=60), adult(**TRAUMA), "hemorrhagic", (60, 80)),
        (Goal(measure="sbp", floor=85), adult(**TRAUMA), "hemorrhagic", (50, 85)),
        (Goal(measure="map", floor=65), BEN, "septic", (65, 80)),
    ],
)
def test_a_physicians_goal_replaces_the_floor_of_its_own_measure(goal, patient, impression, expected):
    assert floors(patient, impression, goal) == expected


def test_a_physicians_goal_keeps_its_reason_and_ceiling():
    goal = Goal(measure="map", floor=80, ceiling=90, because="head injury suspected")

    found = goal_for(case(goal=goal), RULES)

    assert (found.measure, found.floor, found.ceiling, found.because) == ("map", 80, 90, "head injury suspected")


@pytest.mark.parametrize(
    ("sbp", "dbp", "state"),
    [
        pytest.param(80, 35, "at_goal", id="MAP 50"),
        pytest.param(80, 34, "critical", id="MAP 49.3"),
        pytest.param(75, 24, "critical", id="MAP 41"),
        pytest.param(79, 37, "below_goal", id="systolic 79, MAP 51"),
        pytest.param(69, 60, "critical", id="systolic 69"),
    ],
)
def test_a_permissive_goal_moves_no_critical_limit_under_map_50_or_systolic_70(sbp, dbp, state):
    """Contract, "Vitals"."""
    bleeding = case(patient=adult(**TRAUMA), impression="hemorrhagic")

    got = judge(reading(0, sbp, dbp), bleeding.patient, goal_for(bleeding, RULES), RULES).pressure

    assert got.state == state


@pytest.mark.parametrize(
    ("years", "sbp", "dbp", "state"),
    [
        pytest.param(18, 78, 30, "critical", id="18 years, MAP 46"),
        pytest.param(17, 78, 30, "critical", id="17 years, MAP 46"),
        pytest.param(10, 92, 28, "critical", id="10 years, MAP 49.3"),
        pytest.param(10, 92, 29, "below_goal", id="10 years, MAP 50"),
        pytest.param(9, 92, 28, "below_goal", id="9 years, MAP 49.3"),
    ],
)
def test_from_ten_years_on_a_map_under_50_is_critical(years, sbp, dbp, state):
    """Contract, "Vitals"; the floor of MAP is 1.5 x years + 40."""
    known = case(patient=adult(years))

    assert judge(reading(0, sbp, dbp), known.patient, goal_for(known, RULES), RULES).pressure.state == state


@pytest.mark.parametrize(
    ("years", "floor", "words"),
    [
        pytest.param(16, 110, "head injury", id="16 years"),
        pytest.param(15, 110, "head injury", id="15 years"),
        pytest.param(14, 90, "75th centile", id="14 years: lowest for the age"),
        pytest.param(5, 80, "75th centile", id="5 years: lowest for the age"),
    ],
)
def test_a_childs_head_injury_has_its_goal(years, floor, words):
    """110 from 15 years (brain-injury guideline); below, the life-support table's lowest, and the aim in words."""
    found = goal_for(case(patient=Patient(age=Age(years, "years"), injuries=("head",))), RULES)

    assert (found.measure, found.floor) == ("sbp", floor)
    assert words in found.because


def test_a_rule_set_without_an_adults_goal_is_not_guessed_at():
    class Bare:
        name, goals, pressure = "bare", (), RULES.pressure

    with pytest.raises(NoGoalError, match=r"bare: no (map, sbp|sbp, map) goal"):
        goal_for(case(), Bare())


@pytest.mark.parametrize(("measure", "other"), [("map", "sbp"), ("sbp", "map")])
def test_a_goal_that_says_nothing_of_a_measure_gives_no_floor_for_it(measure, other):
    with pytest.raises(NoGoalError, match=f"^{other}$"):
        goals._floor(other, None, Goal(measure=measure, floor=65))


def test_all_limits_of_a_child_of_five():
    """PALS table: 70 + 2 x 5 and 0.85 of it; 1.5 x 5 + 40; sepsis criteria, 60 to 144 months, two points: 36."""
    assert limits_for(BEN, None, RULES) == PressureLimits(
        map_floor=Fraction(95, 2), map_critical=36, sbp_floor=80, sbp_critical=68, adult=False, leads="sbp"
    )


def test_a_childs_critical_limits_move_10_under_a_goal_that_is_lower():
    """Contract, "Vitals": where the goal is below the critical limit, that moves to 10 under it."""
    low = limits_for(BEN, Goal(measure="map", floor=30, other_floor=60), RULES)

    assert (low.map_critical, low.sbp_critical) == (20, 50)


def test_a_rules_ceiling_and_reason_are_those_of_the_first_rule_that_fits():
    """European trauma-bleeding guideline (secondary): systolic 80 to 90."""
    *_others, systolic = RULES.goals
    ranged = replace(systolic, floor=80, ceiling=90, because="ranged")

    found = goal_for(case(), replace(RULES, goals=(ranged, *RULES.goals)))

    assert (found.ceiling, found.because) == (90, "ranged")


FORMER = FormerAims(
    until=at(8),
    by_phase=dict.fromkeys(PHASES, Goal(measure="map", floor=75, other_floor=95))
    | {"pulse_back": Goal(measure="map", floor=77)},
)


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ({}, [(None, 75, 95), (at(8), 65, 90)]),
        ({"goal": Goal(measure="map", floor=85, since=at(4))}, [(None, 75, 95), (at(4), 85, 95), (at(8), 85, 90)]),
        ({"phases": (PhaseChange("a", "pulse_back", at(4)),)}, [(None, 75, 95), (at(4), 77, None), (at(8), 65, 90)]),
    ],
    ids=["rules alone", "a physician's goal", "a phase"],
)
def test_before_the_rules_changed_the_goals_are_those_of_then(told, expected):
    """Another rule set aimed at MAP 75 and systolic 95 until minute 8, the demonstration's 65 and 90 hold since."""
    held = goals_in_force(case(patient=ADA, former_aims=(FORMER,), **told), RULES)

    assert [(each.since, each.goal.floor, each.goal.other_floor) for each in held] == expected
