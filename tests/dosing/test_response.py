"""What the pressure did after a treatment."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import asdict

from dosing.ground.facts import Amount, Dose, Rate
from dosing.ground.phases import PhaseChange
from dosing.load.reader import load_shipped
from dosing.patient.response import responses
from tests.copying import replace
from tests.dosing.cast import at, case, mean, push, reading

RULES = load_shipped("demonstration")
WINDOW = RULES.watch.response_window_min


def response(dose, known, rules):
    """The response to one dose, by name; None where it has none."""
    return next((asdict(found) for found in responses([dose], known, rules)), None)


def after_push(*readings, dose=None, others=()):
    dose = dose or push(0)
    return response(dose, case(*readings, doses=(dose, *others)), RULES)


def bolus(minutes, over_min=None, **more):
    return Dose(
        id="bolus",
        treatment="crystalloid-bolus",
        given_at=at(minutes),
        amount=Amount(500, "mL"),
        over_min=over_min,
        **more,
    )


def into_muscle(minutes, treatment="epinephrine-im"):
    amount = Amount(0.5, "mg")
    return Dose(id="im", treatment=treatment, given_at=at(minutes), amount=amount, route="IM")


@pytest.mark.parametrize(
    ("phases", "answered"),
    [
        ((), True),
        ((("transport", 1),), True),
        ((("arrest", 1),), False),
        ((("arrest", 1), ("pulse_back", 4)), False),
        ((("arrest", 7),), True),
        ((("arrest", -9),), False),
        ((("arrest", -9), ("pulse_back", -6)), True),
    ],
)
def test_what_is_measured_after_an_arrest_is_no_answer_to_a_dose_before(phases, answered):
    """A pulse that came back by compressions and epinephrine has its own pressure (common practice, no source)."""
    changes = tuple(PhaseChange(f"p{minute}", name, at(minute)) for name, minute in phases)
    known = replace(case(mean(-5, 54), mean(6, 69), doses=(push(0),)), phases=changes)

    assert (response(push(0), known, RULES) is not None) is answered


def test_before_and_after():
    got = after_push(mean(-5, 50), mean(-1, 54), mean(2, 66))

    assert got == {
        "intervention": "first push",
        "map_before": 54,
        "map_after": 66,
        "map_highest": None,
        "change": 12,
        "pulse_pressure_before": 99,
        "pulse_pressure_after": 81,
        "shared": False,
        "text": "MAP 54 before, 66 after",
    }


@pytest.mark.parametrize(
    ("readings", "map_after"),
    [
        ([mean(2, 60), mean(5, 66), mean(9, 63)], 63),
        ([mean(2, 66), mean(5, 60)], 60),
        ([mean(0.9, 90), mean(2, 60)], 60),
        ([mean(1, 60)], 60),
        ([mean(2, 60), mean(10, 70), mean(10.1, 99)], 60),
        ([mean(2, 60), reading(3, 99, bp_method="palpated"), reading(4, hr=90)], 60),
    ],
    ids=[
        "median",
        "of two the lower, for each was measured",
        "before it acts",
        "as it begins to",
        "ten minutes",
        "others skipped",
    ],
)
def test_after_is_the_median_of_the_ten_minutes(readings, map_after):
    assert after_push(mean(-1, 54), *readings)["map_after"] == pytest.approx(map_after)


@pytest.mark.parametrize(
    ("ended", "answered"),
    [
        ({}, True),
        ({"status": "stopped", "ended_at": at(3)}, False),
        ({"status": "held", "changed_at": at(3)}, False),
        ({"status": "stopped", "ended_at": at(4)}, True),
    ],
)
def test_a_pressure_after_an_infusion_stands_still_is_no_answer_to_it(ended, answered):
    """Its drug is gone within minutes; that no reading counts at all then is our choice."""
    amount = Amount(0.1, "mcg/kg/min")
    dose = Dose(id="drip", treatment="norepinephrine-infusion", given_at=at(0), amount=amount, status="running")
    dose = replace(dose, rates=(Rate(at(0), amount),), **ended)

    assert (after_push(mean(-1, 56), mean(4, 62), dose=dose) is not None) is answered


@pytest.mark.parametrize(
    ("after", "highest", "text"),
    [
        ((132, 98, 90), 132, "MAP 64 before, 98 after, highest 132"),
        ((132, 66, 62), 132, "MAP 64 before, 66 after, highest 132"),
        ((103, 98, 90), 103, "MAP 64 before, 98 after, highest 103"),
        ((102.9, 98, 90), None, "MAP 64 before, 98 after"),
        ((66, 60, 55), 66, "MAP 64 before, 60 after, highest 66: little change"),
        ((64, 62, 61), None, "MAP 64 before, 62 after: little change"),
        ((60, 59.1, 58), None, "MAP 64 before, 59 after: little change"),
        ((60, 59, 58), None, "MAP 64 before, 59 after: lower"),
        ((66, 59, 58), 66, "MAP 64 before, 59 after, highest 66: lower"),
        ((69, 59, 58), 69, "MAP 64 before, 59 after, highest 69"),
    ],
    ids=[
        "a peak",
        "a peak that has passed",
        "just as a response",
        "not quite",
        "a peak that is none",
        "none",
        "not quite lower",
        "lower",
        "lower after a peak that is none",
        "lower after a peak",
    ],
)
def test_a_reading_that_stands_out_from_the_median_is_told_besides(after, highest, text):
    """5 mmHg, as counts for a response, is our choice; the median of three is the middle one."""
    got = after_push(mean(-1, 64), *(mean(2 + minute, value) for minute, value in enumerate(after)))

    assert (got["map_highest"], got["text"]) == (highest, text)


@pytest.mark.parametrize(
    "readings",
    [
        [],
        [mean(-1, 54)],
        [mean(2, 66)],
        [mean(-1, 54), mean(11, 66)],
        [reading(-1, 80, bp_method="palpated"), mean(2, 66)],
    ],
    ids=["nothing", "none after", "none before", "too late", "no MAP before"],
)
def test_no_response_without_a_map_on_both_sides(readings):
    assert after_push(*readings) is None


@pytest.mark.parametrize(
    ("before", "after", "means"),
    [
        ((80, 41), (84, 42.5), "little change"),
        ((80, 41), (88, 44.4), ""),
        ((80, 41), (84, 41), ""),
        ((80, 41), (88, 44.5), ""),
        ((90, 50), (60, 30), "lower"),
        ((90, 60), (84, 40), "lower"),
        ((80, 40), (83, 39), ""),
        ((80, 40), (82.9, 39), "little change"),
        ((80, 41), (85, 46), ""),
        ((80, 41), (84, 45), "little change"),
    ],
    ids=[
        "a little",
        "five up",
        "pulse pressure a tenth up",
        "both",
        "falling",
        "falling, the pulse pressure wider",
        "a tenth wider",
        "not quite",
        "just five up",
        "four up",
    ],
)
def test_what_is_no_answer_is_said_to_be_lower_or_little_change(before, after, means):
    """A MAP that is lower by what counts for a response is no little change; 5 mmHg is our choice."""
    got = after_push(reading(-1, *before), reading(2, *after))

    assert got["text"].partition(": ")[2] == means


def test_a_reading_at_the_moment_of_the_dose_is_the_one_before():
    assert after_push(mean(-1, 50), mean(0, 54), mean(5, 66))["map_before"] == 54
    assert after_push(mean(0, 54), mean(5, 66), dose=bolus(0))["map_after"] == 66


@pytest.mark.parametrize("after", [57, 60])
def test_without_a_diastolic_the_map_alone_tells(after):
    before = reading(-1, 80, map_reported=54)

    for answer in (reading(2, 100, map_reported=after), reading(2, 120, (3 * after - 120) / 2)):
        assert ("little change" in after_push(before, answer)["text"]) is (after < 59)


def test_a_bolus_acts_from_its_end():
    running = [mean(-1, 54), mean(5, 70), mean(16, 62)]

    assert after_push(*running, dose=bolus(0, over_min=15))["map_after"] == 62
    assert after_push(*running, dose=bolus(0, ended_at=at(4)))["map_after"] == 70


def test_a_new_rate_is_measured_from_its_change():
    drip = Dose(id="drip", treatment="norepinephrine-infusion", given_at=at(0), changed_at=at(20), status="running")

    got = after_push(mean(1, 50), mean(19, 60), mean(23, 68), dose=drip)

    assert (got["map_before"], got["map_after"]) == (60, 68)


@pytest.mark.parametrize(
    ("other", "shared"),
    [
        (push(4, "second push"), True),
        (push(-8, "earlier push"), True),
        (push(-10, "ten minutes before"), True),
        (push(-11, "long ago"), False),
        (push(10, "ten minutes on"), True),
        (push(11, "later"), False),
        (bolus(-20, over_min=15), True),
        (push(4, "no pressor", treatment="other"), False),
        (into_muscle(4), True),
        (into_muscle(-11), False),
        (into_muscle(4, treatment="glucagon"), False),
    ],
    ids=[
        *("second push", "earlier push", "ten before", "long ago", "ten on", "later", "bolus before", "another drug"),
        *("into the muscle", "that long ago", "into the muscle for glucose"),
    ],
)
def test_treatments_that_overlap_share_a_response(other, shared):
    got = after_push(mean(-1, 54), mean(2, 66), others=(other,))

    assert got["shared"] is shared


def test_what_goes_into_the_muscle_has_no_response_of_its_own():
    assert after_push(mean(-1, 54), mean(6, 69), dose=into_muscle(0)) is None


@pytest.mark.parametrize(
    "dose",
    [push(0, prior=True), push(0, treatment="other")],
    ids=["given by others", "unknown drug"],
)
def test_no_response_is_worked_out_for(dose):
    assert after_push(mean(-1, 54), mean(2, 66), dose=dose) is None


def test_the_new_rate_of_what_others_started_has_a_response():
    drip = push(-60, treatment="norepinephrine-infusion", prior=True, status="running", changed_at=at(0))

    assert after_push(mean(-1, 54), mean(2, 66), dose=drip)["change"] == 12


def test_pulse_pressure_is_told_beside_the_map():
    """80/41 is 39, 92/50 and 96/52 are 42 and 44, of which the lower stands; without a diastolic there is none."""
    got = after_push(reading(-1, 80, 41), reading(2, 92, 50), reading(4, 96, 52), reading(6, map_reported=66))
    bare = after_push(reading(-1, map_reported=54), reading(2, 92, 50))

    assert (got["pulse_pressure_before"], got["pulse_pressure_after"]) == (39, 42)
    assert (bare["pulse_pressure_before"], bare["pulse_pressure_after"]) == (None, 42)


def test_nothing_is_ever_called_fluid_responsive():
    got = after_push(mean(-1, 54), mean(16, 80), dose=bolus(0, over_min=15))

    assert "responsive" not in got["text"]


def test_both_are_told_to_two_decimals():
    """MAP-015 and MAP-022: 96/49 is 64.67, 105/44 is 64.33."""
    got = after_push(reading(-1, 105, 44), reading(2, 96, 49))

    assert (got["map_before"], got["map_after"], got["change"]) == (64.33, 64.67, 0.33)


def test_the_pulse_pressure_before_is_that_of_the_last_reading():
    """A tenth above the last, however wide the pulse was earlier."""
    earlier, last = reading(-5, 120, 20), reading(-1, 80, 41)

    assert after_push(earlier, last, reading(2, 84, 41))["text"] == "MAP 54 before, 55 after"


def test_a_reading_shows_a_bolus_from_the_moment_of_its_end():
    got = after_push(mean(-1, 54), mean(10, 64), mean(10.5, 66), dose=bolus(0, over_min=10))

    assert got["map_after"] == 64


@pytest.mark.parametrize(
    ("asked", "map_after"),
    [({"counts_from_min": 3}, 62), (None, 58)],
    ids=["nothing but the end counts", "no reading is asked for: from the start"],
)
def test_from_when_a_reading_shows_a_bolus(asked, map_after):
    """A bolus over 10 min, MAP 58 as it runs and 62 just after its end."""
    fluid = RULES.treatments["crystalloid-bolus"]
    changed = replace(fluid, reassessment=asked and replace(fluid.reassessment, **asked))
    rules = replace(RULES, treatments={fluid.slug: changed})
    readings = [mean(-1, 54), mean(5, 58), mean(10, 62)]

    dose = bolus(0, over_min=10)
    assert response(dose, case(*readings, doses=(dose,)), rules)["map_after"] == map_after


def test_a_dose_that_has_no_response_leaves_those_after_it_theirs():
    doses = (push(-30, "others", prior=True), Dose(id="other", treatment="other", given_at=at(-20)), push(0))
    known = case(mean(-1, 54), mean(2, 66), doses=doses)

    assert [each.intervention for each in responses(doses, known, RULES)] == ["first push"]


@given(st.lists(st.tuples(st.integers(0, 90), st.integers(1, 15), st.booleans()), min_size=1, max_size=8))
def test_of_many_treatments_each_shares_with_any_other_that_acts_meanwhile(given_at):
    """As if every two of them were compared."""
    doses = [
        replace(bolus(minute, over_min=over) if fluid else push(minute), id=str(number))
        for number, (minute, over, fluid) in enumerate(given_at)
    ]
    ends = [minute + WINDOW + (over if fluid else 0) for minute, over, fluid in given_at]
    facts = case(mean(-1, 54), *(mean(minute, 60) for minute in range(1, 130, 2)), doses=tuple(doses))

    for got in responses(doses, facts, RULES):
        place = int(got.intervention)
        others = [other for other in range(len(doses)) if other != place]
        meets = [given_at[other][0] <= ends[place] and ends[other] >= given_at[place][0] for other in others]
        assert got.shared is any(meets)
