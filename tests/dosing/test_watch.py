"""What asks for a person besides the pressure: reassessments, orders, contact; and when to look again."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.facts import Dose, Order
from dosing.load.reader import load_shipped
from dosing.patient.reassess import opened_by
from dosing.watch.causes import watch
from tests.copying import replace
from tests.dosing.cast import at, case, mean, push

RULES = load_shipped("demonstration")
FIRST = push(0)
PUSHED = RULES.treatments[FIRST.treatment].title
BOLUS = Dose(id="bolus", treatment="crystalloid-bolus", given_at=at(-15), over_min=15)


def look(now, *, doses=(), heard=None, **more):
    """One look at a case whose unit is in contact unless ``heard`` says otherwise; doses open their reassessments."""
    opened = [opened_by(dose, RULES) for dose in doses]
    facts = case(
        doses=tuple(doses),
        last_contact_at=at(now if heard is None else heard),
        **({"reassessments": tuple(each for each in opened if each)} | more),
    )
    return watch(facts, RULES, at(now))


def raised(watched, kind):
    return [cause for cause in watched.causes if cause.kind == kind]


# ---- reassessments -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("now", "overdue"), [(2, False), (2.99, False), (3, True), (20, True)])
def test_a_reassessment_is_overdue_once_its_grace_is_over(now, overdue):
    watched = look(now, doses=[FIRST])

    assert bool(watched.overdue) is overdue
    assert bool(raised(watched, "reassessment_overdue")) is overdue
    assert watched.unknown == ()


def test_it_names_the_treatment():
    (cause,) = raised(look(4, doses=[FIRST]), "reassessment_overdue")

    assert (cause.cause, cause.priority, cause.since) == ("reassessment", "high", at(3))
    assert cause.text == f"No reassessment after {PUSHED}, due 10:02 UTC"


@pytest.mark.parametrize(
    ("doses", "unanswered", "priority", "told"),
    [
        ([FIRST, push(4)], {}, "high", f"{PUSHED}, due 10:06 UTC, and 1 earlier"),
        ([FIRST, push(4)], {PUSHED: 12}, "high", f"{PUSHED}, due 10:06 UTC, and 13 earlier"),
        ([BOLUS], {PUSHED: 12}, "high", f"{PUSHED}, 12 times; crystalloid bolus, due 10:00 UTC"),
        ([BOLUS], {"crystalloid bolus": 2}, "medium", "crystalloid bolus, due 10:00 UTC, and 2 earlier"),
        ([BOLUS, FIRST], {}, "high", f"{PUSHED}, due 10:02 UTC; crystalloid bolus, due 10:00 UTC"),
        ([], {"crystalloid bolus": 2}, "medium", "crystalloid bolus, 2 times"),
    ],
)
def test_one_alert_tells_of_each_treatment_the_newest_and_how_many_before_it(doses, unanswered, priority, told):
    (cause,) = raised(look(20, doses=doses, unanswered=unanswered), "reassessment_overdue")

    assert (cause.priority, cause.text) == (priority, f"No reassessment after {told}")


def test_a_bolus_is_less_urgent_than_a_pressor():
    assert [cause.priority for cause in look(20, doses=[BOLUS]).causes] == ["medium"]


def test_a_done_reassessment_asks_for_nobody():
    done = replace(opened_by(FIRST, RULES), done_at=at(2), state="done")

    assert look(20, doses=[FIRST], reassessments=(done,)).causes == ()
    assert look(20, doses=[FIRST], reassessments=(replace(done, state="waiting"),)).causes == ()


def test_an_overdue_one_stands_until_it_is_done_but_changes_state_once():
    overdue = replace(opened_by(FIRST, RULES), state="overdue")

    watched = look(9, doses=[FIRST], reassessments=(overdue,))

    assert watched.overdue == ()
    assert len(raised(watched, "reassessment_overdue")) == 1


@pytest.mark.parametrize(
    ("further", "overdue"),
    [
        (push(1.5, "second push"), True),
        (push(1.5, "phenylephrine", treatment="phenylephrine-push-dose"), True),
        (push(1.5, "by others", prior=True), False),
        (push(-3, "before"), False),
        (push(0, "same moment"), False),
        (Dose(id="fluid", treatment="crystalloid-bolus", given_at=at(1.5), over_min=15), False),
    ],
    ids=["push", "another pressor", "given by others", "an earlier one", "same moment", "fluid"],
)
def test_a_further_pressor_before_the_reading_makes_it_overdue_at_once(further, overdue):
    watched = look(1.6, doses=[FIRST, further])

    assert (opened_by(FIRST, RULES).id in watched.overdue) is overdue


@pytest.mark.parametrize(("minutes", "overdue"), [(10, False), (20, False), (21, True)])
def test_a_further_pressor_counts_from_the_new_rate_on(minutes, overdue):
    drip = push(0, treatment="norepinephrine-infusion", status="running", changed_at=at(20))
    asked = opened_by(drip, RULES)
    watched = look(21.5, doses=[drip, push(minutes, "push")], reassessments=(asked,))

    assert (asked.id in watched.overdue) is overdue


def test_a_pressor_does_not_hurry_the_reading_after_a_running_bolus():
    running = replace(BOLUS, given_at=at(0))

    assert look(6, doses=[running, push(5)]).overdue == ()


@pytest.mark.parametrize(
    ("heard", "now", "overdue", "unknown"),
    [
        (0, 6, False, True),
        (1.9, 6.9, False, True),
        (2, 7, False, True),
        (2.1, 7.1, True, False),
        (0, 4.9, True, False),
        (6, 7, True, False),
    ],
    ids=["silent", "since before", "since it was due", "heard after it was due", "not lost yet", "in contact"],
)
def test_unknown_only_without_contact_since_it_was_due(heard, now, overdue, unknown):
    watched = look(now, doses=[FIRST], heard=heard)

    assert (bool(watched.overdue), bool(watched.unknown)) == (overdue, unknown)
    assert bool(raised(watched, "reassessment_overdue")) is overdue


def test_an_unknown_one_stays_so_until_the_unit_is_heard():
    unknown = (replace(opened_by(FIRST, RULES), state="unknown"),)

    silent, heard = (look(9, doses=[FIRST], reassessments=unknown, heard=when) for when in (1, 9))

    assert (silent.unknown, silent.overdue) == ((), ())
    assert heard.overdue == (unknown[0].id,)


# ---- orders --------------------------------------------------------------------------------------------------------


def order(state, **more):
    return Order(id="order", treatment="epinephrine-push-dose", state=state, **more)


@pytest.mark.parametrize(
    ("what", "now", "kind", "priority", "since"),
    [
        (order("requested", waiting_since=at(0)), 0.99, None, None, None),
        (order("requested", waiting_since=at(0)), 1, "order_waiting", "medium", 1),
        (order("requested", waiting_since=None), 9, None, None, None),
        (order("approved", approved_at=at(0), expires_at=at(10)), 0.99, None, None, None),
        (order("approved", approved_at=at(0), expires_at=at(10)), 1, "readback_waiting", "medium", 1),
        (order("approved", approved_at=at(0), misread_at=at(0.1)), 0.2, "readback_mismatch", "high", 0.1),
        (order("approved", approved_at=at(0), misread_at=at(2)), 5, "readback_mismatch", "high", 2),
        (order("read_back", approved_at=at(0), expires_at=at(10)), 5, None, None, None),
        (order("declined"), 5, None, None, None),
        (order("given", approved_at=at(0), expires_at=at(1)), 5, None, None, None),
    ],
    ids=[
        "just asked",
        "asked for a minute",
        "asked back",
        "just approved",
        "not read back",
        "differs",
        "differs still",
        "read back",
        "declined",
        "given",
    ],
)
def test_an_order_that_waits(what, now, kind, priority, since):
    causes = look(now, orders=(what,)).causes

    assert [(cause.kind, cause.cause, cause.priority) for cause in causes] == (
        [(kind, "order", priority)] if kind else []
    )
    assert [cause.since for cause in causes] == ([at(since)] if kind else [])


@pytest.mark.parametrize(
    ("state", "now", "expired"),
    [
        ("approved", 9.99, False),
        ("approved", 10, True),
        ("read_back", 10, True),
        ("given", 30, False),
        ("requested", 30, False),
    ],
)
def test_an_order_expires(state, now, expired):
    watched = look(now, orders=(order(state, approved_at=at(0), expires_at=at(10)),))

    assert watched.expired == (("order",) if expired else ())
    assert not (expired and watched.causes)


def test_an_order_of_a_closed_case_expires_and_asks_nobody():
    approved = (order("approved", approved_at=at(0), expires_at=at(10)),)

    assert look(5, orders=approved, state="closed").causes == ()
    assert look(10, orders=approved, state="closed").expired == ("order",)


# ---- contact -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("now", "state", "lost"), [(4.99, "open", False), (5, "open", True), (60, "open", True), (60, "handed_over", False)]
)
def test_a_unit_that_has_gone_quiet(now, state, lost):
    causes = look(now, heard=0, state=state).causes

    assert [(cause.kind, cause.priority, cause.text, cause.since) for cause in causes] == (
        [("no_contact", "medium", "No data from unit since 10:00 UTC", at(5))] if lost else []
    )


def test_a_unit_never_heard_is_quiet_since_the_case_was_opened():
    facts = case(last_contact_at=None)

    assert watch(facts, RULES, at(4)).causes == ()
    assert [cause.kind for cause in watch(facts, RULES, at(5)).causes] == ["no_contact"]


# ---- time ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("now", "more", "next_at"),
    [
        (0, {}, 5),
        (0, {"doses": [FIRST]}, 3),
        (0, {"orders": (order("requested", waiting_since=at(0)),)}, 1),
        (2, {"orders": (order("approved", approved_at=at(0), expires_at=at(3)),)}, 3),
        (0, {"orders": (order("approved", approved_at=at(0), expires_at=at(10)),)}, 1),
        (5, {"heard": 0}, None),
        (9, {"heard": 0}, None),
        (0, {"state": "closed"}, None),
    ],
)
def test_when_to_look_again(now, more, next_at):
    assert look(now, **more).next_at == (None if next_at is None else at(next_at))


EVERYTHING = case(
    mean(0, 80),
    mean(3, 66),
    mean(6, 62),
    mean(9, 61),
    doses=(FIRST, push(4, "second push"), BOLUS),
    reassessments=tuple(opened_by(dose, RULES) for dose in (FIRST, push(4, "second push"), BOLUS)),
    orders=(
        order("requested", waiting_since=at(2)),
        replace(order("approved", approved_at=at(3), expires_at=at(13)), id="another"),
    ),
    last_contact_at=at(9),
)


@given(st.floats(0, 30), st.floats(0, 30))
def test_nothing_changes_by_time_alone_before_next_at(first, later):
    """Between a look and the moment it names, every further look finds the same."""
    first, later = sorted((first, later))
    watched = watch(EVERYTHING, RULES, at(first))

    if watched.next_at is None or at(later) < watched.next_at:
        again = watch(EVERYTHING, RULES, at(later))
        assert (again.causes, again.overdue, again.unknown, again.expired) == (
            watched.causes,
            watched.overdue,
            watched.unknown,
            watched.expired,
        )


@given(st.floats(0, 60))
def test_one_cause_of_each_kind_and_its_texts_do_not_age(minutes):
    """But for the one that names all that is overdue by then."""
    now, later = (watch(EVERYTHING, RULES, at(minutes + more)) for more in (0, 15))
    keys = [(cause.kind, cause.cause) for cause in now.causes]
    texts = {(cause.kind, cause.cause): cause.text for cause in later.causes if cause.kind != "reassessment_overdue"}

    assert len(keys) == len(set(keys))
    assert all(texts.get(key, cause.text) == cause.text for key, cause in zip(keys, now.causes, strict=True))
