"""MAP, state and text of one set of vitals, as the API answers them."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.facts import Goal
from dosing.load.reader import load_shipped
from dosing.patient.pressure import Derived, above, judge, mean_mmhg
from tests.dosing.cast import ADA, BEN, NOA, UNKNOWN, child, reading
from tests.dosing.pressure_values import ROWS, numbers, pairs, params

RULES = load_shipped("demonstration")
SYSTOLIC = st.integers(20, 300)


def derived(sbp=None, dbp=None, patient=ADA, goal=None, **more):
    return judge(reading(0, sbp, dbp, **more), patient, goal, RULES)


def pressure(*args, **more):
    found = derived(*args, **more).pressure
    assert found is not None
    return found


# ---- the mean ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("sbp", "dbp", "mean"), pairs())
def test_map_is_a_third_of_systolic_and_twice_the_diastolic(sbp, dbp, mean):
    assert derived(sbp, dbp).as_dict()["map"] == pytest.approx(mean, abs=0.01)


def test_map_takes_no_account_of_the_heart_rate():
    """Another published formula would give 96.56."""
    assert numbers(ROWS["MAP-031"]["expected"]) == [96.56]
    assert derived(120, 80, hr=70).as_dict()["map"] == 93.33


@pytest.mark.parametrize("row", params("PP-001", "PP-002", "PP-006"))
def test_pulse_pressure(row):
    assert derived(*numbers(row["input"])).pulse_pressure == float(row["expected"])


@pytest.mark.parametrize("row", params("SI-010", "SI-011", "SI-012", "SI-013", "SI-014"))
def test_shock_index(row):
    hr, sbp, dbp = numbers(row["input"])

    assert derived(sbp, dbp, hr=hr).shock_index == pytest.approx(numbers(row["expected"])[0], abs=0.001)


def test_shock_index_without_a_systolic_is_no_infinity():
    assert ROWS["SI-016"]["expected"] == "not computable"
    assert derived(0, hr=90).shock_index is None


@pytest.mark.parametrize(
    ("method", "reported", "decides", "source"),
    [
        ("cuff", 58, 58, "reported"),
        ("cuff", 62, 61.33, "computed"),
        ("manual", 58, 61.33, "computed"),
        (None, 58, 61.33, "computed"),
        ("arterial", 66, 66, "reported"),
        ("arterial", 58, 58, "reported"),
        ("arterial", None, 61.33, "computed"),
    ],
)
def test_which_map_decides(method, reported, decides, source):
    got = derived(96, 44, bp_method=method, map_reported=reported).as_dict()

    assert (got["map"], got["map_from"], got["map_computed"]) == (decides, source, 61.33)


def test_where_reported_and_computed_agree_it_is_computed():
    assert derived(95, 50, bp_method="cuff", map_reported=65).map_from == "computed"


def test_a_reported_map_alone_is_judged_as_it_is():
    got = derived(map_reported=61).as_dict()

    assert (got["map"], got["map_computed"], got["map_from"]) == (61, None, "reported")
    assert got["pressure"] == {"state": "below_goal", "judged_by": "map", "goal": 65, "text": "MAP 61, goal 65"}


# ---- an adult ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sbp", "dbp", "shown", "state", "judged_by", "text"),
    [
        (96, 44, "61", "below_goal", "map", "MAP 61, goal 65"),
        (94, 50, "64.7", "below_goal", "map", "MAP 64.7, goal 65"),
        (95, 50, "65", "at_goal", "map", "MAP 65, goal 65"),
        (97, 49, "65", "at_goal", "map", "MAP 65, goal 65"),
        (95.1, 49.95, "65", "at_goal", "map", "MAP 65, goal 65"),
        (95.1, 49.94, "64.9", "below_goal", "map", "MAP 64.9, goal 65"),
        (96, 42, "60", "below_goal", "map", "MAP 60, goal 65"),
        (97, 41, "59.7", "critical", "map", "MAP 59.7, goal 65"),
        (90, 40, "57", "critical", "map", "MAP 57, goal 65"),
        (82, 58, "66", "below_goal", "sbp", "systolic 82, goal 90"),
        (89.9, 60, "70", "below_goal", "sbp", "systolic 89.9, goal 90"),
        (90, 60, "70", "at_goal", "map", "MAP 70, goal 65"),
        (70, 66, "67", "below_goal", "sbp", "systolic 70, goal 90"),
        (69, 66, "67", "critical", "sbp", "systolic 69, goal 90"),
        (119, 60, "79.7", "at_goal", "map", "MAP 79.7, goal 65"),
        (120, 60, "80", "normal_range", "map", "MAP 80, goal 65"),
        (120, 90, "100", "normal_range", "map", "MAP 100, goal 65"),
        (121, 90, "100.3", "above_range", "map", "MAP 100.3, goal 65"),
        (150, 100, "117", "above_range", "map", "MAP 117, goal 65"),
    ],
)
def test_states_of_an_adult(sbp, dbp, shown, state, judged_by, text):
    got = derived(sbp, dbp)

    assert (got.map_shown, got.pressure.state, got.pressure.judged_by, got.pressure.text) == (
        shown,
        state,
        judged_by,
        text,
    )


def test_an_unknown_age_is_judged_as_an_adult():
    assert derived(96, 44, patient=UNKNOWN) == derived(96, 44, patient=ADA)


@pytest.mark.parametrize(
    ("sbp", "state", "text"),
    [
        (69, "critical", "systolic 69 by palpation, goal 90"),
        (70, "below_goal", "systolic 70 by palpation, goal 90"),
        (89, "below_goal", "systolic 89 by palpation, goal 90"),
        (90, "unknown", "systolic 90 by palpation, MAP unknown"),
        (140, "unknown", "systolic 140 by palpation, MAP unknown"),
    ],
)
def test_a_palpated_pressure_has_no_map(sbp, state, text):
    got = derived(sbp, bp_method="palpated", map_reported=70)

    assert (got.map, got.map_shown, got.map_from, got.map_computed, got.pulse_pressure) == (None,) * 5
    assert (got.pressure.state, got.pressure.judged_by, got.pressure.goal, got.pressure.text) == (
        state,
        "sbp",
        90,
        text,
    )


def test_palpated_without_its_number_says_nothing_of_the_pressure():
    """A monitor's mean beside it counts no more than beside 90/P: the mean of a palpated pressure is unknown."""
    assert derived(bp_method="palpated", map_reported=60) == Derived()


@pytest.mark.parametrize(
    ("pulses", "text"),
    [
        (None, "pressure not obtainable"),
        ("none", "pressure not obtainable, no pulse felt"),
        ("carotid", "pressure not obtainable, carotid pulse felt"),
    ],
)
def test_a_pressure_that_cannot_be_obtained_is_critical(pulses, text):
    got = pressure(bp_method="unobtainable", pulses=pulses)

    assert (got.state, got.judged_by, got.text) == ("critical", None, text)


# ---- a goal --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("goal", "sbp", "dbp", "state", "judged_by", "floor"),
    [
        (Goal(measure="map", floor=80), 104, 53, "below_goal", "map", 80),
        (Goal(measure="map", floor=80), 130, 55, "normal_range", "map", 80),
        (Goal(measure="map", floor=80), 95, 42, "critical", "map", 80),
        (Goal(measure="map", floor=50), 95, 40, "at_goal", "map", 50),
        (Goal(measure="map", floor=50), 95, 27, "critical", "map", 50),  # never under MAP 50
        (Goal(measure="map", floor=58), 95, 39, "below_goal", "map", 58),
        (Goal(measure="map", floor=58), 95, 27, "critical", "map", 58),
        (Goal(measure="map", floor=60), 95, 42, "critical", "map", 60),
        (Goal(measure="sbp", floor=110), 109, 70, "below_goal", "sbp", 110),
        (Goal(measure="sbp", floor=80), 80, 60, "at_goal", "sbp", 80),
        (Goal(measure="sbp", floor=60), 69, 65, "critical", "sbp", 60),  # never under systolic 70
        (Goal(measure="sbp", floor=60), 70, 68, "at_goal", "sbp", 60),
        (Goal(measure="sbp", floor=80, other_floor=50), 80, 40, "at_goal", "sbp", 80),
        (Goal(measure="sbp", floor=80, other_floor=50), 79, 40, "below_goal", "sbp", 80),
    ],
)
def test_a_goal_replaces_its_floor_and_takes_the_critical_limit_along(goal, sbp, dbp, state, judged_by, floor):
    got = pressure(sbp, dbp, goal=goal)

    assert (got.state, got.judged_by, got.goal) == (state, judged_by, floor)


def test_map_shown_minds_the_goal_that_is_set():
    assert derived(104, 53, goal=Goal(measure="map", floor=70)).map_shown == "70"
    assert derived(103, 53, goal=Goal(measure="map", floor=70)).map_shown == "69.7"


# ---- a child -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("patient", "sbp", "dbp", "state", "judged_by", "goal"),
    [
        (child(2), 73, 45, "below_goal", "sbp", 74),
        (child(2), 74, 45, "at_goal", "sbp", 74),
        (BEN, 80, 32, "at_goal", "sbp", 80),
        (BEN, 79, 40, "below_goal", "sbp", 80),
        (BEN, 69, 40, "below_goal", "sbp", 80),
        (BEN, 68, 40, "critical", "sbp", 80),
        (BEN, 90, 25, "below_goal", "map", 47.5),
        (BEN, 90, 26.25, "at_goal", "sbp", 80),
        (BEN, 92, 8, "below_goal", "map", 47.5),
        (BEN, 92, 7, "critical", "map", 47.5),
        (BEN, 70, 40, "below_goal", "sbp", 80),
        (BEN, 130, 110, "at_goal", "sbp", 80),
        (NOA, 60, 20, "at_goal", "sbp", 60),
        (NOA, 51, 30, "critical", "sbp", 60),
        (NOA, 62, 15, "below_goal", "map", 31),
        (child(6, "months"), 70, 24, "at_goal", "sbp", 70),
        (child(6, "months"), 72, 22, "below_goal", "map", 39),
    ],
)
def test_states_of_a_child(patient, sbp, dbp, state, judged_by, goal):
    got = pressure(sbp, dbp, patient=patient)

    assert (got.state, got.judged_by, got.goal) == (state, judged_by, goal)


@pytest.mark.parametrize(("sbp", "dbp", "shown"), [(80, 24, "42.7"), (81, 24, "43"), (80, 26, "44")])
def test_a_childs_map_shows_a_decimal_at_its_own_floor(sbp, dbp, shown):
    assert derived(sbp, dbp, patient=child(2)).map_shown == shown  # its floor is 43


def test_a_palpated_childs_pressure_is_low_or_unknown():
    assert pressure(79, patient=BEN, bp_method="palpated").state == "below_goal"
    assert pressure(84, patient=BEN, bp_method="palpated").state == "unknown"


def test_a_physicians_goal_holds_for_a_child_too():
    got = pressure(90, 50, patient=BEN, goal=Goal(measure="map", floor=65))

    assert (got.state, got.judged_by, got.goal) == ("below_goal", "map", 65)


# ---- the whole answer ----------------------------------------------------------------------------------------------


def test_the_answer_has_the_contracts_keys():
    got = derived(96, 44, map_reported=62, bp_method="cuff", hr=128, cap_refill_s=4, avpu="A").as_dict()

    assert got == {
        "map": 61.33,
        "map_computed": 61.33,
        "map_shown": "61",
        "map_from": "computed",
        "pulse_pressure": 52,
        "shock_index": 1.33,
        "pressure": {"state": "below_goal", "judged_by": "map", "goal": 65, "text": "MAP 61, goal 65"},
        "signs": ["cap refill 4 s", "shock index 1.33", "heart rate 128"],
    }


@pytest.mark.parametrize(
    ("patient", "sbp", "dbp", "goal"), [(ADA, 96, 44, "65"), (BEN, 60, 40, "80"), (child(17), 95, 40, "65.5")]
)
def test_a_goal_is_written_as_a_whole_number_where_it_is_one(patient, sbp, dbp, goal):
    """Adult sepsis guideline: 65; 70 + 2 x 5 = 80; 1.5 x 17 + 40 = 65.5."""
    assert json.dumps(derived(sbp, dbp, patient=patient).as_dict()["pressure"]["goal"]) == goal


MAP_70_TO_80, SYSTOLIC_80_TO_90 = Goal(measure="map", floor=70, ceiling=80), Goal(measure="sbp", floor=80, ceiling=90)


@pytest.mark.parametrize(
    ("goal", "sbp", "dbp", "more", "told"),
    [
        (MAP_70_TO_80, 100, 70, {}, None),
        (MAP_70_TO_80, 101, 70, {}, "ceiling"),
        (MAP_70_TO_80, 190, 140, {}, "ceiling"),
        (MAP_70_TO_80, 90, 50, {}, None),
        (SYSTOLIC_80_TO_90, 90, 70, {}, None),
        (SYSTOLIC_80_TO_90, 91, 70, {}, "ceiling"),
        (SYSTOLIC_80_TO_90, 91, None, {"bp_method": "palpated"}, "ceiling"),
        (SYSTOLIC_80_TO_90, None, None, {"bp_method": "unobtainable"}, None),
        (None, 120, 90, {}, None),
        (None, 121, 90, {}, "usual"),
        (Goal(measure="map", floor=65), 160, 118, {}, "usual"),
        (None, 60, 30, {}, None),
    ],
    ids=[
        "at the ceiling",
        "just above it",
        "far above it",
        "below goal",
        "at the systolic ceiling",
        "just above that",
        "by palpation",
        "none obtainable",
        "MAP 100",
        "MAP 100.3",
        "no ceiling of its own",
        "critical",
    ],
)
def test_a_pressure_above_its_ceiling_or_the_usual_range_is_told(goal, sbp, dbp, more, told):
    """100/70 is exactly 80; the usual range of the MAP ends at 100."""
    taken = reading(0, sbp, dbp, **more)

    assert above(taken, judge(taken, ADA, goal, RULES), goal) == told


def test_without_a_pressure_everything_about_it_is_null():
    got = derived(hr=80)

    assert got == Derived()
    assert got.as_dict() == dict.fromkeys(list(got.as_dict())[:-1]) | {"signs": []}


@given(SYSTOLIC, st.data())
def test_the_shown_map_tells_the_same_state_as_the_exact_one(sbp, data):
    dbp = data.draw(st.integers(0, sbp - 1))
    got = derived(sbp, dbp)
    by_shown = derived(sbp, map_reported=float(got.map_shown), bp_method="arterial", dbp=dbp)

    assert dbp <= got.map <= sbp
    assert by_shown.pressure.state == got.pressure.state


@given(SYSTOLIC, st.data(), st.sampled_from([ADA, BEN, NOA]))
def test_a_higher_pressure_is_never_judged_worse(sbp, data, patient):
    order = ["critical", "below_goal", "at_goal", "normal_range", "above_range"]
    dbp = data.draw(st.integers(0, sbp - 1))

    def rank(more):
        return order.index(pressure(sbp + more, dbp + more, patient=patient).state)

    assert rank(0) <= rank(data.draw(st.integers(0, 40)))


@pytest.mark.parametrize(("patient", "goal"), [(ADA, 65), (BEN, 80), (NOA, 60)], ids=["adult", "five years", "newborn"])
def test_a_pressure_that_cannot_be_obtained_is_held_against_the_goal_of_the_age(patient, goal):
    """Adult sepsis guideline: MAP 65; PHT-011, PHT-017: systolic 80 at five years, 60 in the first month."""
    assert pressure(bp_method="unobtainable", patient=patient).goal == goal


@pytest.mark.parametrize(("method", "expected"), [("arterial", 66), ("cuff", 61), ("manual", 61)])
def test_the_mean_that_decides_hangs_on_the_method(method, expected):
    """Contract, "Which decides": arterial the reported one, cuff the lower of both, else the computed one."""
    assert round(mean_mmhg(reading(0, 95, 44, map_reported=66, bp_method=method))) == expected


@pytest.mark.parametrize(("hr", "sbp"), [(110, 90), (88, 98), (0, 60)])
def test_shock_index_by_its_definition(hr, sbp):
    """SI-001: heart rate divided by systolic pressure."""
    assert ROWS["SI-001"]["expected"] == "HR / SBP"
    assert derived(sbp, 40, hr=hr).shock_index == hr / sbp


def test_a_low_map_above_the_table_of_the_sepsis_criteria_still_tells():
    """PHX-008: over 216 months the published function gives no point whatever the MAP; an adult of 20 is critical."""
    got = pressure(40, 10, patient=child(numbers(ROWS["PHX-008"]["population"])[0], "months"))

    assert (got.state, got.judged_by, got.goal) == ("critical", "map", 65)
