"""The alert after a pressor: the events of Cole et al., J Med Toxicol 2019;15:276 (EVD-005), and a child's band."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.facts import Age, Amount, Dose, Patient, Rate
from dosing.load.reader import load_shipped
from dosing.patient.children import heart_rate_band
from dosing.watch.causes import watch
from dosing.watch.pressor import after_pressor
from tests.dosing.cast import ADA, BEN, NOA, UNKNOWN, at, case, child, push, reading
from tests.dosing.dosing_values import ROWS

RULES = load_shipped("demonstration")
FIRST = (push(0),)
TITLE = RULES.treatments["epinephrine-push-dose"].title


def seen(*readings, doses=FIRST, patient=ADA):
    """The causes that stand after these readings."""
    return [each.cause for each in after_pressor(case(*readings, doses=doses, patient=patient), RULES)]


def drip(minutes=0, **more):
    return Dose(id="drip", treatment="norepinephrine-infusion", given_at=at(minutes), status="running", **more)


def test_the_limits_are_those_of_the_study():
    """EVD-005: HR > 140; new HR < 60; SBP > 180; ventricular tachycardia."""
    rule = RULES.watch

    assert ROWS["EVD-005"]["expected"] == (
        f"HR > {rule.after_pressor_rate_above}; new HR < {rule.after_pressor_rate_below}; "
        f"SBP > {rule.after_pressor_sbp_above}; ventricular tachycardia"
    )
    assert rule.sources["after_pressor_rate_above"].mark == "read"


@pytest.mark.parametrize(
    ("values", "cause"),
    [
        ({"hr": 140}, None),
        ({"hr": 141}, "fast"),
        ({"hr": 60}, None),
        ({"hr": 59}, "slow"),
        ({"sbp": 180, "dbp": 90}, None),
        ({"sbp": 181, "dbp": 90}, "systolic"),
        ({"rhythm": "sinus"}, None),
        ({"rhythm": "VT"}, "rhythm"),
    ],
)
@pytest.mark.parametrize("patient", [ADA, UNKNOWN], ids=["adult", "age unknown"])
def test_what_is_seen_in_an_adult(values, cause, patient):
    found = seen(reading(-1, 90, 50, hr=100, rhythm="sinus"), reading(2, **values), patient=patient)

    assert found == ([cause] if cause else [])


@pytest.mark.parametrize(
    ("before", "rate", "cause"),
    [
        (139, 141, None),
        (139, 144, None),
        (139, 145, "fast"),
        (122, 141, None),
        (121, 141, "fast"),
        (None, 144, None),
        (None, 145, "fast"),
        (61, 59, None),
        (61, 56, None),
        (61, 55, "slow"),
        (78, 59, None),
        (79, 59, "slow"),
    ],
)
def test_a_rate_just_across_its_limit_is_no_news_unless_it_has_changed_by_much(before, rate, cause):
    """By 5 across the limit, or 20 from the last rate on the other side of it (our choice)."""
    first = [] if before is None else [reading(-1, 90, 50, hr=before)]

    assert seen(*first, reading(2, hr=rate)) == ([cause] if cause else [])


def test_a_rate_that_was_news_stands_while_it_is_across_its_limit():
    assert seen(reading(-1, hr=139), reading(2, hr=150), reading(4, hr=142)) == ["fast"]


@pytest.mark.parametrize(
    ("patient", "high"),
    [
        (child(2), 125),
        (BEN, 125),
        (child(8), 135),
        (child(14), 160),
        (Patient(age=Age(29, "years"), pregnancy_weeks=32), 160),
        (Patient(age=Age(40, "years"), injuries=("head",)), 180),
    ],
    ids=["2 years", "5 years", "8 years", "14 years", "32 weeks pregnant", "head injury"],
)
def test_a_systolic_counts_from_where_it_is_too_high_for_this_patient(patient, high):
    before = reading(-1, 70, 40)

    assert seen(before, reading(2, high - 1, 60), patient=patient) == []
    assert seen(before, reading(2, high, 60), patient=patient) == ["systolic"]


def test_a_two_year_old_at_160_after_a_push_is_told():
    facts = case(reading(-1, 70, 40), reading(2, 160, 70), doses=FIRST, patient=child(2))
    causes = [each for each in watch(facts, RULES, at(2)).causes if each.kind in ("after_pressor", "high_pressure")]

    assert [(each.kind, each.priority) for each in causes] == [("high_pressure", "high")]


@pytest.mark.parametrize(("minute", "stands"), [(-0.1, False), (0, False), (0.1, True), (10, True), (10.1, False)])
def test_within_ten_minutes(minute, stands):
    assert bool(seen(reading(minute, hr=150))) is stands


@pytest.mark.parametrize(
    ("readings", "stands"),
    [
        ([reading(-1, hr=150), reading(2, hr=155)], False),
        ([reading(-5, hr=150), reading(-1, hr=120), reading(2, hr=155)], True),
        ([reading(-1, hr=150), reading(1, hr=130), reading(3, hr=150)], True),
        ([reading(-1, 80, 40), reading(2, hr=150)], True),
        ([reading(2, hr=150), reading(4, hr=130)], False),
        ([reading(2, hr=150), reading(4, 90, 50)], True),
        ([reading(2, hr=150), reading(9, hr=150)], True),
        ([reading(2, hr=150), reading(11, hr=150)], False),
        ([reading(2, hr=150), reading(11, 90, 50)], True),
        ([reading(-1, hr=50), reading(2, hr=50)], False),
        ([reading(-1, hr=150), reading(2, hr=50)], True),
    ],
    ids=[
        "fast before",
        "fast long before",
        "slower between",
        "no rate before",
        "gone",
        "rate not taken again",
        "still",
        "the window is over",
        "over, rate not taken again",
        "slow before",
        "fast, then slow",
    ],
)
def test_a_rate_counts_if_it_is_new_and_until_a_reading_says_otherwise(readings, stands):
    assert bool(seen(*readings)) is stands


@pytest.mark.parametrize("before", [{"sbp": 190, "dbp": 90}, {"rhythm": "VT"}], ids=["systolic", "rhythm"])
def test_systolic_and_rhythm_count_even_if_they_were_there_before(before):
    assert seen(reading(-1, **before), reading(2, **before)) == ["systolic" if "sbp" in before else "rhythm"]


def test_a_run_of_pushes_is_one_window():
    """What began after the first push stands after the third; once no push is near it ends."""
    pushes = tuple(push(4 * number, f"push {number}") for number in range(4))
    fast = [reading(minute, hr=150) for minute in (2, 6, 10, 14, 22)]

    assert seen(reading(-1, hr=110), *fast, doses=pushes) == ["fast"]
    assert seen(reading(-1, hr=110), *fast, reading(22.5, hr=150), doses=pushes) == []


@pytest.mark.parametrize(
    ("doses", "stands"),
    [
        ((push(0, treatment="phenylephrine-push-dose"),), True),
        ((drip(0),), True),
        ((drip(-30),), False),
        ((drip(-30, changed_at=at(0)),), True),
        ((drip(-30, rates=(Rate(at(-30), Amount(4, "mcg/min")), Rate(at(0), Amount(8, "mcg/min")))),), True),
        ((push(0, prior=True),), False),
        ((drip(0, prior=True),), False),
        ((drip(-30, prior=True, changed_at=at(0)),), True),
        ((drip(0, prior=True, changed_at=at(20)),), False),
        ((push(0, treatment="crystalloid-bolus"),), False),
        ((push(0, treatment="other"),), False),
        ((push(-1, "a bolus", treatment="crystalloid-bolus"), push(0)), True),
        ((), False),
    ],
    ids=[
        *("another push", "start", "long running", "new rate", "rates", "given by others", "started by others"),
        *("new rate of what others started", "their start before it", "fluid", "other", "fluid and a push", "nothing"),
    ],
)
def test_after_which_treatments(doses, stands):
    assert bool(seen(reading(-1, hr=100), reading(2, hr=150), doses=doses)) is stands


@pytest.mark.parametrize("patient", [BEN, NOA, child(16)], ids=["5 years", "10 days", "16 years"])
def test_a_childs_heart_is_fast_above_the_band_of_its_age(patient):
    _, high = heart_rate_band(patient.age)
    before = reading(-1, hr=high - 19)

    assert seen(before, reading(2, hr=high), patient=patient) == []
    assert seen(before, reading(2, hr=high + 1), patient=patient) == ["fast"]
    assert seen(reading(-1, hr=high), reading(2, hr=high + 4), patient=patient) == []
    assert seen(reading(-1, hr=high), reading(2, hr=high + 5), patient=patient) == ["fast"]
    assert seen(reading(-1, hr=high + 1), reading(2, hr=high + 1), patient=patient) == []


def test_a_childs_heart_below_60_counts_even_if_it_was_slow_before():
    slow = [reading(-1, hr=58), reading(2, hr=58)]

    assert seen(*slow, patient=BEN) == ["slow"]
    assert seen(*slow, patient=ADA) == []
    assert seen(reading(-1, hr=90), reading(2, hr=60), patient=BEN) == []


def test_ventricular_tachycardia_speaks_for_its_rate_but_not_for_the_pressure():
    assert seen(reading(2, 190, 100, hr=190, rhythm="VT")) == ["rhythm", "systolic"]
    assert seen(reading(2, 190, 100, hr=190)) == ["fast", "systolic"]


def test_the_alert_is_high_names_the_pressor_and_holds_no_number_that_ages():
    facts = case(reading(-1, hr=100), reading(2, hr=150), reading(4, hr=160), doses=(push(0),))
    (cause,) = [each for each in watch(facts, RULES, at(4)).causes if each.kind == "after_pressor"]

    assert (cause.cause, cause.priority, cause.since) == ("fast", "high", at(2))
    assert cause.text == f"Heart rate above 140 after {TITLE}"


@given(st.floats(4, 600))
def test_time_alone_changes_nothing(minutes):
    facts = case(reading(-1, hr=100), reading(4, 190, 90, hr=150), doses=(push(0),))
    now, later = (watch(facts, RULES, at(moment)).causes for moment in (4, minutes))

    assert [each for each in later if each.kind == "after_pressor"] == [
        each for each in now if each.kind == "after_pressor"
    ]


@given(st.lists(st.tuples(st.integers(-20, 40), st.integers(20, 220)), max_size=12), st.permutations(range(3)))
def test_it_does_not_matter_in_which_order_things_were_sent(values, order):
    """Late entries: the same doses and readings, however they came, give the same answer."""
    readings = [reading(minute, hr=rate) for minute, rate in sorted(values)]
    pushes = [push(6 * number, f"push {number}") for number in range(3)]

    assert seen(*readings, doses=tuple(pushes[number] for number in order)) == seen(*readings, doses=tuple(pushes))


@given(
    st.lists(st.tuples(st.integers(-20, 40), st.integers(20, 220)), min_size=1, max_size=12, unique_by=lambda v: v[0])
)
def test_whatever_stands_is_seen_in_the_newest_reading_within_the_window(values):
    readings = [reading(minute, hr=rate) for minute, rate in sorted(values)]
    newest = readings[-1]
    found = seen(*readings)

    if found:
        assert newest.hr > 140 or newest.hr < 60
        assert timedelta() < newest.taken_at - at(0) <= timedelta(minutes=10)
