"""A pressor that runs asks for one pressure after the other: the first 3 min after its start, then every 5 min.

Norepinephrine prescribing information: every 2 min until the pressure is where it should be, then every 5 min (read).
The first at 3 min, and the same for every pressor, is our choice.
"""

import pytest

from dosing.ground.facts import Dose, Latest
from dosing.load.reader import load_shipped
from dosing.patient.reassess import due_while_it_runs, opened_by
from dosing.watch.causes import watch
from tests.copying import replace
from tests.dosing.cast import at, case, push, reading

RULES = load_shipped("demonstration")
PRESSORS = [each.slug for each in RULES.treatments.values() if (each.drug_class, each.form) == ("pressor", "infusion")]


def drip(minutes=0, treatment="norepinephrine-infusion", **more):
    return Dose(id="drip", treatment=treatment, given_at=at(minutes), **({"status": "running"} | more))


def measured(*readings, **more):
    """A case with these readings and the newest values of theirs; opened ten minutes before ten."""
    latest = {
        name: Latest(value, each.taken_at)
        for each in readings
        for name in ("sbp", "map_reported", "bp_method", "hr")
        if (value := getattr(each, name)) is not None
    }
    return case(*readings, latest=latest, opened_at=at(-10), **more)


@pytest.mark.parametrize("treatment", PRESSORS)
@pytest.mark.parametrize(
    ("readings", "due"),
    [
        ([], 3),
        ([reading(0.9, 88, 50)], 3),
        ([reading(1, 88, 50)], 6),
        ([reading(3, 88, 50)], 8),
        ([reading(3, 88, 50), reading(4, hr=100)], 8),
        ([reading(3, 88, 50), reading(7, 92, 54)], 12),
        ([reading(3, bp_method="unobtainable")], 8),
        ([reading(3, map_reported=66)], 8),
    ],
    ids=[
        "none yet",
        "too early",
        "from 1 min on",
        "the first",
        "a rate alone",
        "one after the other",
        "sought",
        "mean",
    ],
)
def test_when_the_next_pressure_is_due(treatment, readings, due):
    asked = due_while_it_runs(drip(treatment=treatment), measured(*readings), RULES)

    assert (asked.due_at, asked.overdue_at - asked.due_at) == (at(due), at(2) - at(0))
    assert asked.needs == ("pressure",)


@pytest.mark.parametrize(
    "dose",
    [
        drip(status="stopped", ended_at=at(9)),
        drip(status="given"),
        push(0),
        Dose(id="bolus", treatment="crystalloid-bolus", given_at=at(0), status="running"),
    ],
    ids=["stopped", "told as given", "a push", "a bolus that runs"],
)
def test_what_does_not_go_on_asking(dose):
    assert due_while_it_runs(dose, measured(reading(3, 88, 50)), RULES) is None


def test_a_new_rate_begins_anew():
    known = measured(reading(18, 88, 50), reading(21, 90, 50))

    assert due_while_it_runs(drip(changed_at=at(20)), known, RULES).due_at == at(26)
    assert due_while_it_runs(drip(changed_at=at(20.5)), known, RULES).due_at == at(23.5)


def test_what_others_started_asks_as_well():
    taken_over = drip(-60, prior=True)

    assert due_while_it_runs(taken_over, measured(), RULES).due_at == at(-7)  # the case was opened at -10
    assert due_while_it_runs(taken_over, measured(reading(-9, 96, 50)), RULES).due_at == at(-4)


@pytest.mark.parametrize(
    ("readings", "due"),
    [
        ([], 3),
        ([reading(4, 88, 50)], 9),
        ([reading(4, 88, 50), reading(6, 90, 50)], 11),
        ([reading(4, 88, 50), reading(6.1, 90, 50)], 9),  # after the end
        ([reading(4, 88, 50), reading(5, hr=90)], 9),
    ],
)
def test_of_a_case_that_has_ended_what_was_read_until_then_counts(readings, due):
    assert due_while_it_runs(drip(), measured(*readings, ended_at=at(6)), RULES).due_at == at(due)


def overdue(now, dose, *readings, doses=(), **more):
    """The text and priority of what is overdue at a moment."""
    asked = due_while_it_runs(dose, measured(*readings), RULES)
    facts = measured(*readings, doses=(dose, *doses), reassessments=(asked,), **({"last_contact_at": at(now)} | more))
    return [(each.priority, each.text) for each in watch(facts, RULES, at(now)).causes if each.kind == OVERDUE]


OVERDUE = "reassessment_overdue"
TITLE = RULES.treatments["norepinephrine-infusion"].title


@pytest.mark.parametrize(
    ("now", "readings", "told"),
    [
        (4.9, [], None),
        (5, [], f"No pressure after {TITLE}, due 10:03 UTC"),
        (9.9, [reading(3, 96, 60)], None),
        (10, [reading(3, 96, 60)], f"No pressure while {TITLE} runs, due 10:08 UTC"),
        (40, [reading(35, 96, 60)], None),
    ],
    ids=[
        "in its grace",
        "the first is missing",
        "the next in its grace",
        "the next is missing",
        "an hour of pressures",
    ],
)
def test_a_pressor_without_pressures_is_told(now, readings, told):
    assert overdue(now, drip(), *readings) == ([("high", told)] if told else [])


@pytest.mark.parametrize(
    ("pushed_at", "readings", "early"),
    [(2, [], True), (4, [reading(3, 96, 60)], False), (6, [reading(3, 96, 60)], False)],
    ids=["before the first pressure", "after it", "before the next is due"],
)
def test_a_push_hurries_the_first_pressure_alone(pushed_at, readings, early):
    found = overdue(pushed_at + 0.5, drip(), *readings, doses=(push(pushed_at),))

    assert bool(found) is early


def test_one_that_was_stopped_asks_once_more_and_another_pressor_does_not_hurry_it():
    stopped = drip(status="stopped", ended_at=at(30))
    asked = opened_by(stopped, RULES)
    facts = measured(doses=(stopped, push(31)), reassessments=(asked,), last_contact_at=at(32))

    assert asked.due_at == at(33)
    assert not [each for each in watch(facts, RULES, at(32)).causes if each.kind == OVERDUE]


def test_it_goes_on_asking_under_one_id():
    first, next_one = (due_while_it_runs(drip(), measured(*sets), RULES) for sets in ([], [reading(3, 96, 60)]))

    assert first.id == next_one.id
    assert replace(next_one, counts_from=first.counts_from) != first
