"""Vital signs that alarm by themselves: which value, at which age, how often, and when it is over.

Limits: the demonstration rules, each with its source there. Danger in adults begins no later than heart rate 40 or 180,
SpO2 85, breathing 8, glucose 40 mg/dL, GCS 8, unresponsive.
"""

from __future__ import annotations

import pytest

from dosing.ground.facts import Facts, Latest, Patient
from dosing.load.reader import load_shipped
from dosing.watch.causes import watch
from dosing.watch.vital_signs import alarming, limits_of
from tests.dosing.cast import ADA, UNKNOWN, at, case, child, push, reading

RULES = load_shipped("demonstration")
KINDS = ("low_saturation", "slow_breathing", "vital_sign")


def standing(facts: Facts, rules=RULES) -> list[tuple[str, str, str]]:
    causes = watch(facts, rules, facts.last_contact_at).causes
    return [(cause.kind, cause.cause, cause.priority) for cause in causes if cause.kind in KINDS]


def after(name: str, *values, patient: Patient = ADA) -> str | None:
    """The priority of what stands after these values two minutes apart, beside a good pressure."""
    found = standing(case(*(reading(2 * n, 120, 70, **{name: v}) for n, v in enumerate(values)), patient=patient))
    return found[0][2] if found else None


@pytest.mark.parametrize(
    ("name", "danger", "warning", "fine"),
    [
        ("hr", (40, 180), (41, 49, 150, 179), (50, 149)),  # NEWS2; 180 our choice; life support 50, 150 (memory)
        ("spo2", (85, 62, 0), (86, 89), (90, 100)),  # field guidelines: under 90 (memory)
        ("rr", (8, 4, 0), (9,), (10, 40)),  # NEWS2: 8 or less (memory)
        ("glucose_mg_dl", (53.9, 53, 40, 20), (54, 59.4), (60, 400)),  # diabetes care: under 54 (memory)
        ("gcs", (8, 3), (9, 10), (11, 15)),  # Glasgow Coma Scale: 8 or less (memory)
        ("avpu", ("U",), ("P",), ("V", "A")),  # McNarry & Goldhill 2004 (memory)
        ("etco2", (10, 80), (11, 15, 60, 79), (16, 59)),
        ("temp_c", (28, 41), (28.1, 32, 40, 40.9), (32.1, 39.9)),
    ],
)
@pytest.mark.parametrize("patient", [ADA, UNKNOWN], ids=["54 years", "age unknown"])
def test_an_adults_limits(name, danger, warning, fine, patient):
    assert [after(name, value, patient=patient) for value in danger] == ["high"] * len(danger)
    assert [after(name, value, patient=patient) for value in warning] == [None] * len(warning)
    assert [after(name, value, value, patient=patient) for value in warning] == ["medium"] * len(warning)
    assert [after(name, value, value, patient=patient) for value in fine] == [None] * len(fine)


@pytest.mark.parametrize("name", ["demonstration", "conservative"])
@pytest.mark.parametrize(
    "worst",
    [{"hr": 40}, {"hr": 180}, {"spo2": 85}, {"rr": 8}, {"glucose_mg_dl": 40}, {"gcs": 8}, {"avpu": "U"}],
    ids=str,
)
def test_danger_begins_no_later_than_this_in_adults(name, worst):
    assert [found[2] for found in standing(case(reading(0, 120, 70, **worst)), load_shipped(name))] == ["high"]


@pytest.mark.parametrize(
    ("patient", "name", "danger", "not_danger"),
    [
        (child(0, "days"), "spo2", 79, 80),
        (child(1, "days"), "spo2", 85, 86),
        (child(10, "days"), "hr", 59, 60),
        (child(10, "days"), "hr", 220, 219),
        (child(364, "days"), "hr", 220, 219),  # life support, children: 220 in infants, 180 in children (memory)
        (child(1), "hr", 180, 179),
        (child(11), "hr", 59, 60),
        (child(12), "hr", 40, 41),
        (child(3, "months"), "rr", 19, 20),  # field triage guideline 2011 (memory)
        (child(1), "rr", 14, 15),  # triage of children: under 15 (memory)
        (child(5), "rr", 14, 15),
        (child(6), "rr", 10, 11),
        (child(12), "rr", 8, 9),
        (child(27, "days"), "glucose_mg_dl", 40, 41),
        (child(28, "days"), "glucose_mg_dl", 53, 54),
        (child(27, "days"), "temp_c", 32, 32.1),  # WHO: severe under 32 (memory)
        (child(28, "days"), "temp_c", 28, 28.1),
    ],
    ids=lambda value: f"{value.age.value} {value.age.unit}" if isinstance(value, Patient) else str(value),
)
def test_a_childs_danger_by_age(patient, name, danger, not_danger):
    assert after(name, danger, patient=patient) == "high"
    assert after(name, not_danger, patient=patient) != "high"


def test_every_age_has_its_limits():
    for days in range(20 * 365):
        held = limits_of(child(days, "days"), RULES)
        assert held.keys() >= {"hr", "spo2", "rr", "glucose_mg_dl", "gcs", "avpu", "etco2", "temp_c"}
        assert None not in (held["hr"].danger_low, held["hr"].danger_high)


@pytest.mark.parametrize(
    ("values", "priority"),
    [
        pytest.param((62, 86), "medium", id="no longer in danger"),
        pytest.param((62, 90), "medium", id="fine once, not clearly"),
        pytest.param((62, 91), None, id="clearly fine: 2 within the limit"),
        pytest.param((62, 90, 90), None, id="fine twice"),
        pytest.param((62, 90, 88), "medium", id="back before it was over"),
        pytest.param((62, 88, 84), "high", id="worse again"),
        pytest.param((62, 97, 88), None, id="over, then one warning"),
        pytest.param((88, 95, 88), None, id="warnings not in a row"),
        pytest.param((88, None, 88), "medium", id="in a row, other sets between"),
    ],
)
def test_raised_moved_and_cleared(values, priority):
    assert after("spo2", *values) == priority


@pytest.mark.parametrize(
    ("name", "danger", "clear", "not_clear"),
    [
        ("hr", 180, 145, 145.1),  # 5 within 150
        ("hr", 40, 54, 53.9),  # 5 within 49
        ("spo2", 85, 91, 90.9),
        ("temp_c", 41, 39.5, 39.6),
        ("temp_c", 28, 32.5, 32.4),
        ("gcs", 3, 12, 11),
    ],
)
def test_one_reading_just_clear_of_the_limit_ends_it(name, danger, clear, not_clear):
    """How far that is: the rule set's `clear`, our choice."""
    assert after(name, danger, clear) is None
    assert after(name, danger, not_clear) == "medium"


def test_one_cause_for_how_awake_somebody_is_whichever_scale_tells_it():
    sets = [reading(0, avpu="U"), reading(2, gcs={"eye": 1, "verbal": 1, "motor": 4})]
    told = {cause.text for cause in watch(case(*sets), RULES, at(2)).causes if cause.cause == "alertness"}

    assert standing(case(*sets)) == [("vital_sign", "alertness", "high")]
    assert told == {"Unresponsive (GCS 8 or less)"}
    assert standing(case(*sets, reading(4, avpu="A"))) == []
    assert standing(case(reading(0, gcs={"eye": 1, "motor": 6}))) == []  # the voice cannot be tested


@pytest.mark.parametrize(
    ("avpu", "gcs", "priority"),
    [("A", (1, 1, 4), "high"), ("U", (4, 5, 6), "high"), ("P", (2, 2, 4), "high"), ("A", (4, 5, 6), None)],
)
def test_of_two_scales_in_one_set_the_worse_decides(avpu, gcs, priority):
    told = reading(0, avpu=avpu, gcs=dict(zip(("eye", "verbal", "motor"), gcs, strict=True)))

    assert [each[2] for each in standing(case(told))] == ([priority] if priority else [])


def test_what_the_meter_calls_low_is_a_danger():
    assert standing(case(reading(0, glucose_flag="low"))) == [("vital_sign", "glucose_mg_dl", "high")]
    assert standing(case(reading(0, glucose_flag="high"))) == []
    assert standing(case(reading(0, glucose_flag="low"), reading(9, glucose_mg_dl=90))) == []


def test_from_low_to_high_is_told_anew():
    (slow,), (fast,) = (
        [cause.text for cause in watch(case(*sets), RULES, at(2)).causes if cause.cause == "hr"]
        for sets in ([reading(0, hr=35)], [reading(0, hr=35), reading(2, hr=190)])
    )

    assert (slow, fast) == ("Heart rate dangerously slow (40 or less)", "Heart rate dangerously fast (180 or more)")


@pytest.mark.parametrize(
    ("name", "values", "text"),
    [
        ("hr", (45, 45), "Heart rate slow (49 or less)"),
        ("hr", (160, 155), "Heart rate fast (150 or more)"),
        ("spo2", (88, 88), "SpO2 low (89 or less)"),
        ("temp_c", (31, 30), "Temperature low (32 °C or less)"),
        ("temp_c", (27,), "Temperature dangerously low (28 °C or less)"),
        ("glucose_mg_dl", (57, 58), "Glucose low (59.9 mg/dL or less)"),
    ],
)
def test_the_words_name_the_limit_that_is_passed_and_not_the_number(name, values, text):
    sets = (reading(2 * number, 120, 70, **{name: value}) for number, value in enumerate(values))

    assert [cause.text for cause in watch(case(*sets), RULES, at(2)).causes] == [text]


def test_a_danger_told_late_does_not_stand_beside_newer_readings_that_are_fine():
    assert standing(case(reading(0, spo2=62), reading(6, spo2=96))) == []


def test_a_value_that_no_kept_set_holds_any_more_still_stands():
    known = case(reading(0, 120, 70), latest={"glucose_mg_dl": Latest(30, at(-40))})

    assert standing(known) == [("vital_sign", "glucose_mg_dl", "high")]


@pytest.mark.parametrize(
    ("rates", "told"),
    [
        ((104, 145), [("after_pressor", "fast")]),
        ((104, 155, 155), [("after_pressor", "fast")]),
        ((104, 185), [("vital_sign", "hr")]),
        ((104, 185, 155), [("vital_sign", "hr")]),
        ((104, 38), [("vital_sign", "hr")]),
    ],
    ids=["fast after a push", "a warning too", "a danger", "a danger that was", "slow"],
)
def test_one_reading_after_a_pressor_is_one_alarm(rates, told):
    sets = [reading(2 * number - 1, 90, 60, hr=rate) for number, rate in enumerate(rates)]
    causes = watch(case(*sets, doses=(push(0),)), RULES, at(4)).causes

    assert [(one.kind, one.cause) for one in causes if one.kind in ("after_pressor", "vital_sign")] == told


def test_a_rhythm_speaks_for_its_rate():
    sets = reading(1, 90, 60, hr=190, rhythm="ventricular tachycardia")
    causes = watch(case(sets, doses=(push(0),)), RULES, at(1)).causes

    assert [(one.kind, one.cause) for one in causes if one.kind != "low_pressure"] == [("after_pressor", "rhythm")]


def test_the_newest_values_beyond_their_limits_are_marked():
    latest = {"spo2": 62, "hr": 90, "rr": 9, "gcs": 5, "glucose_flag": "low", "avpu": "P"}
    known = case(latest={name: Latest(value, at(0)) for name, value in latest.items()})

    assert alarming(known, RULES) == {
        "spo2": "danger",
        "rr": "warning",
        "gcs": "danger",
        "avpu": "warning",
        "glucose_flag": "danger",
    }
