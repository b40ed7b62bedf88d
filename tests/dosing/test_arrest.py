"""In cardiac arrest pressures and readings ask for nobody; once the pulse is back, what is measured from then on does.

That a set of vitals follows the return of pulse, and that MAP 65 and systolic 90 are aimed at: the rule set's source
`pulse-back`. How soon: our choice, no source.
"""

from __future__ import annotations

from itertools import product

import pytest

from dosing.ground.facts import Goal, Latest
from dosing.ground.phases import PHASES, PhaseChange, has_pulse, present_since, pulse_again
from dosing.load import reader
from dosing.patient import reassess
from dosing.patient.freshness import fresh_min
from dosing.patient.goals import goal_for
from dosing.patient.signs import signs_of_case
from dosing.watch.causes import watch
from tests.copying import replace
from tests.dosing.bedside import check, codes, facts
from tests.dosing.cast import ADA, BEN, at, case, push, reading

RULES = reader.load_shipped("demonstration")
LOW, FINE = {"sbp": 62, "dbp": 30}, {"sbp": 118, "dbp": 76}
PRESSURES = {"low_pressure", "falling", "high_pressure", "low_saturation", "slow_breathing", "vital_sign"}
PAUSED = PRESSURES | {"after_pressor", "reassessment_overdue"}


def phases(*told):
    return tuple(
        PhaseChange(f"0000000{n}-0000-4000-8000-000000000000", name, at(when)) for n, (when, name) in enumerate(told)
    )


def kinds(facts, minutes):
    return {cause.kind for cause in watch(facts, RULES, at(minutes)).causes}


def overdue(facts, minutes):
    return [cause for cause in watch(facts, RULES, at(minutes)).causes if cause.kind == "reassessment_overdue"]


def asked_after_push(minutes=0, **more):
    dose = push(minutes)
    return {"doses": (dose,), "reassessments": (reassess.opened_by(dose, RULES),), **more}


@pytest.mark.parametrize("phase", PHASES)
def test_without_a_pulse_a_low_pressure_and_a_bad_sign_ask_for_nobody(phase):
    told = reading(6, spo2=60, hr=20, rr=2, **LOW)
    found = kinds(case(reading(1, **LOW), told, phases=phases((5, phase))), 7)
    assert bool(found & PRESSURES) == (phase in ("transport", "pulse_back"))


def test_what_stood_before_the_arrest_does_not_come_back_with_the_pulse():
    before = case(reading(1, **LOW), reading(2, **LOW), phases=phases((5, "arrest"), (10, "pulse_back")))
    assert "low_pressure" not in kinds(before, 11)


@pytest.mark.parametrize(("measured", "asks"), [(LOW, True), (FINE, False)])
def test_what_is_measured_once_the_pulse_is_back_counts(measured, asks):
    told = case(reading(1, **FINE), reading(11, **measured), phases=phases((5, "arrest"), (10, "pulse_back")))
    assert ("low_pressure" in kinds(told, 12)) == asks


def test_contact_and_orders_are_watched_in_arrest_too():
    assert "no_contact" in kinds(case(reading(1, **FINE), phases=phases((2, "arrest"))), 8)


def test_a_reading_that_is_missing_pauses_in_arrest():
    facts = case(reading(-1, **FINE), **asked_after_push(), phases=phases((2, "arrest")), last_contact_at=at(30))
    assert [watch(facts, RULES, at(n)).overdue for n in (6, 20, 30)] == [(), (), ()]
    assert not kinds(facts, 30) & PAUSED


def test_and_is_due_again_with_the_first_set_after_it():
    told = phases((2, "arrest"), (20, "pulse_back"))
    facts = case(reading(-1, **FINE), **asked_after_push(), phases=told, last_contact_at=at(24))
    assert watch(facts, RULES, at(24)).overdue == ()
    (cause,) = overdue(facts, 25)
    assert (cause.priority, cause.since) == ("high", at(25))
    assert "since the return of pulse, due 10:23 UTC" in cause.text


def test_one_that_was_overdue_before_it_is_told_no_sooner():
    dose = push(-20)
    asked = reassess.opened_by(dose, RULES)
    late = replace(asked, state="overdue")
    told = {
        "doses": (dose,),
        "reassessments": (late,),
        "unanswered": {"crystalloid bolus": 3},
        "last_contact_at": at(30),
    }
    arrest = case(**told, phases=phases((0, "arrest"), (20, "pulse_back")))
    assert [bool(overdue(arrest, minute)) for minute in (10, 21, 24.9, 25)] == [False, False, False, True]


def test_a_push_after_the_pulse_is_back_asks_as_ever():
    told = phases((2, "arrest"), (20, "pulse_back"))
    facts = case(reading(19, **FINE), **asked_after_push(20.5), phases=told)
    assert reassess.after_pause(facts.reassessments[0], facts, RULES) is facts.reassessments[0]


SET = {"sbp": 96, "dbp": 60, "hr": 90, "spo2": 95}


@pytest.mark.parametrize(
    ("readings", "wanted"),
    [
        ([], True),
        ([reading(19, **SET)], True),  # before the pulse
        ([reading(20, **SET)], False),
        ([reading(21, sbp=96, dbp=60)], True),
        ([reading(21, sbp=96, dbp=60), reading(22, hr=90, spo2=95)], False),
        ([reading(21, bp_method="unobtainable", hr=90, spo2=95)], False),
    ],
)
def test_a_pulse_that_is_back_asks_for_a_first_set(readings, wanted):
    facts = case(*readings, phases=phases((2, "arrest"), (20, "pulse_back")))
    asked = reassess.after_arrest(facts, RULES)
    assert (asked is not None) == wanted
    if asked:
        assert (asked.counts_from, asked.due_at, asked.overdue_at) == (at(20), at(23), at(25))


@pytest.mark.parametrize(
    ("minutes", "readings", "lacks"),
    [
        (24.99, [], None),
        (25, [], "No pressure, heart rate or SpO2"),
        (25, [reading(21, sbp=96, dbp=60)], "No heart rate or SpO2"),
        (25, [reading(21, sbp=96, dbp=60, spo2=95)], "No heart rate"),
        (25, [reading(22, **SET)], None),
    ],
)
def test_a_first_set_that_is_late_says_what_it_lacks(minutes, readings, lacks):
    facts = case(*readings, phases=phases((2, "arrest"), (20, "pulse_back")), last_contact_at=at(24))
    told = [(each.priority, each.text, each.since) for each in overdue(facts, minutes)]

    assert told == ([("high", f"{lacks} since the return of pulse, due 10:23 UTC", at(25))] if lacks else [])


@pytest.mark.parametrize("told", [(), ((2, "arrest"),), ((2, "pulse_back"),), ((2, "arrest"), (9, "ended"))])
def test_who_never_lost_it_or_has_none_is_asked_for_no_first_set(told):
    assert reassess.after_arrest(case(phases=phases(*told)), RULES) is None


def test_when_a_first_set_is_late_is_looked_at_then():
    facts = case(phases=phases((2, "arrest"), (20, "pulse_back")), last_contact_at=at(24))
    assert watch(facts, RULES, at(24)).next_at == at(25)


def test_a_unit_that_is_out_of_reach_is_not_late_with_it():
    told = phases((2, "arrest"), (20, "pulse_back"))
    assert [bool(overdue(case(phases=told, last_contact_at=at(heard)), 40)) for heard in (20, 39)] == [False, True]


def test_the_arrest_of_now_counts_and_not_that_before_the_last_pulse():
    """Held against the words themselves: of each course of phases, whether there is a pulse and since when."""
    for course in product(PHASES, repeat=4):
        told = phases(*enumerate(course))
        assert has_pulse(told) == (course[-1] in ("transport", "pulse_back"))
        back = pulse_again(told)
        gone = [n for n in range(1, 4) if course[n - 1] in ("arrest", "ended") and has_pulse(told[n : n + 1])]
        assert back == (told[gone[-1]] if has_pulse(told) and gone else None)
        turned = [n for n in range(4) if has_pulse(told[: n + 1]) != has_pulse(told[:n])]
        assert present_since(told) == (at(turned[-1]) if turned else None)


BACK = phases((2, "arrest"), (4, "pulse_back"))


def latest(minutes, **measured):
    return {name: Latest(value, at(minutes)) for name, value in measured.items()}


@pytest.mark.parametrize(("taken", "stands"), [(1, False), (3, False), (5, True)])
def test_a_sign_is_of_now_from_the_return_of_pulse_on(taken, stands):
    """A heart rate of 20 alarms at any age, a refill of 5 s is slow: both tell of a pulse that was lost since."""
    facts = case(latest=latest(taken, hr=20, cap_refill_s=5), phases=BACK)
    assert ("vital_sign" in kinds(facts, 6)) is stands
    signs = signs_of_case(facts)
    assert [bool(signs.present), bool(signs.old)] == [stands, not stands]


@pytest.mark.parametrize(("taken", "counts"), [(1, False), (3, False), (4, True)])
def test_a_pressure_counts_from_the_return_of_pulse_on(taken, counts):
    assert (fresh_min(at(taken), "critical", case(phases=BACK), RULES) > 0) is counts


@pytest.mark.parametrize(("taken", "told"), [(-3, ["pressure_unknown"]), (-1, [])])
def test_a_push_wants_a_pressure_since_the_return_of_pulse(taken, told):
    """Five minutes are new enough else (the rule set's `stale_pressor_min`)."""
    back = phases((-2.5, "arrest"), (-2, "pulse_back"))
    found = check("epinephrine-push-dose", 10, "mcg", facts(readings=(reading(taken, sbp=84, dbp=50),), phases=back))
    assert [code for code in codes(found) if code.startswith("pressure")] == told


MAP = {"measure": "map", "because": "set by Dr. Merrin"}


@pytest.mark.parametrize(
    ("goal", "floor"),
    [
        (Goal(**MAP, floor=50, since=at(1)), 65),  # permitted before, no more
        (Goal(**MAP, floor=80, since=at(1)), 80),  # more was asked for: it stays
        (Goal(**MAP, floor=55, since=at(21)), 55),  # set since
        (Goal(**MAP, floor=55), 55),  # nobody knows when
        (None, 65),
    ],
)
def test_the_return_of_pulse_sets_its_goal(goal, floor):
    back = phases((2, "arrest"), (20, "pulse_back"))
    assert goal_for(case(patient=ADA, goal=goal, phases=back), RULES).floor == floor


def test_a_childs_goal_is_that_of_its_age_then_too():
    back = goal_for(case(patient=BEN, phases=phases((2, "arrest"), (20, "pulse_back"))), RULES)
    assert (back.measure, back.floor) == ("sbp", 80)  # 70 + 2 x 5, published paediatric life support


@pytest.mark.parametrize(("phase", "told_so"), [("arrest", False), ("pulse_back", True), ("transport", True)])
@pytest.mark.parametrize(("treatment", "dose"), [("dextrose", (25, "g")), ("magnesium-sulfate", (2, "g"))])
def test_nobody_is_asked_for_a_pressure_while_there_is_no_pulse(treatment, dose, phase, told_so):
    known = facts(sbp=None, signs={"glucose_mg_dl": 110}, phases=phases((-10, phase)))

    assert ("pressure_stale" in codes(check(treatment, *dose, known))) is told_so
