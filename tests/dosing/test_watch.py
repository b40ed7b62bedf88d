"""What asks for a person besides the pressure: reassessments, orders, contact; and when to look again."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.facts import Amount, Container, Dose, Order
from dosing.load.reader import load_shipped
from dosing.patient.reassess import opened_by
from dosing.watch.causes import watch
from tests.copying import replace
from tests.dosing.cast import at, case, mean, push, reading

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


@pytest.mark.parametrize(("now", "overdue"), [(2, False), (4.99, False), (5, True), (20, True)])
def test_a_reassessment_is_overdue_once_its_grace_is_over(now, overdue):
    watched = look(now, doses=[FIRST])

    assert bool(watched.overdue) is overdue
    assert bool(raised(watched, "reassessment_overdue")) is overdue
    assert watched.unknown == ()


@pytest.mark.parametrize(("ended", "overdue"), [(4, False), (6, True)], ids=["ended before", "ended after"])
def test_what_was_overdue_when_the_case_ended_is_noted_and_raises_nothing(ended, overdue):
    watched = look(480, doses=[FIRST], state="handed_over", ended_at=at(ended))

    assert (bool(watched.overdue), watched.causes) == (overdue, ())


def test_it_names_the_treatment():
    (cause,) = raised(look(6, doses=[FIRST]), "reassessment_overdue")

    assert (cause.cause, cause.priority, cause.since) == ("reassessment", "high", at(5))
    assert cause.text == f"No pressure after {PUSHED}, due 10:02 UTC"


def test_it_names_what_is_missing_for_which_doses():
    """What has come since is not asked for again; midazolam needs alertness, breathing and SpO2."""
    sedated = push(0, "sedated", treatment="midazolam")
    since = [reading(1, hr=90), reading(6, spo2=96)]
    (cause,) = raised(look(20, doses=[FIRST, sedated], readings=tuple(since)), "reassessment_overdue")

    assert cause.text == (
        f"No pressure after {PUSHED}, due 10:02 UTC; "
        f"no alertness or breathing after {RULES.treatments['midazolam'].title}, due 10:05 UTC"
    )


@pytest.mark.parametrize(
    ("doses", "unanswered", "priority", "told"),
    [
        ([FIRST, push(4)], {}, "high", f"No pressure after {PUSHED}, due 10:06 UTC, and 1 earlier"),
        ([FIRST, push(4)], {PUSHED: 12}, "high", f"No pressure after {PUSHED}, due 10:06 UTC, and 13 earlier"),
        (
            [BOLUS],
            {PUSHED: 12},
            "high",
            f"No reading after {PUSHED}, 12 times; no pressure after crystalloid bolus, due 10:00 UTC",
        ),
        (
            [BOLUS],
            {"crystalloid bolus": 2},
            "medium",
            "No pressure after crystalloid bolus, due 10:00 UTC, and 2 earlier",
        ),
        (
            [BOLUS, FIRST],
            {},
            "high",
            f"No pressure after {PUSHED}, due 10:02 UTC; no pressure after crystalloid bolus, due 10:00 UTC",
        ),
        ([], {"crystalloid bolus": 2}, "medium", "No reading after crystalloid bolus, 2 times"),
    ],
)
def test_one_alert_tells_of_each_treatment_the_newest_and_how_many_before_it(doses, unanswered, priority, told):
    (cause,) = raised(look(20, doses=doses, unanswered=unanswered), "reassessment_overdue")

    assert (cause.priority, cause.text) == (priority, told)


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
    assert any("before the next pressor" in cause.text for cause in watched.causes) is overdue


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
        (0.5, 5.4, True, False),
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
    return Order(id="order", state=state, **({"treatment": "epinephrine-push-dose"} | more))


@pytest.mark.parametrize(
    ("what", "now", "kind", "priority", "since"),
    [
        (order("requested", waiting_since=at(0)), 2.99, None, None, None),
        (order("requested", waiting_since=at(0)), 3, "order_waiting", "medium", 3),
        (order("requested", waiting_since=None), 9, None, None, None),
        (order("approved", to_read_back_from=at(0), expires_at=at(10)), 3.99, None, None, None),
        (order("approved", to_read_back_from=at(0), expires_at=at(10)), 4, "readback_waiting", "medium", 4),
        (order("approved", to_read_back_from=at(0), misread_at=at(0.1)), 0.2, "readback_mismatch", "high", 0.1),
        (order("approved", to_read_back_from=at(0), misread_at=at(2)), 5, "readback_mismatch", "high", 2),
        (order("read_back", to_read_back_from=at(0), expires_at=at(10)), 5, None, None, None),
        (order("declined"), 5, None, None, None),
        (order("given", to_read_back_from=at(0), expires_at=at(1)), 5, None, None, None),
    ],
    ids=[
        *("just asked", "asked for three minutes", "asked back", "just approved", "not read back", "differs"),
        *("differs still", "read back", "declined", "given"),
    ],
)
def test_an_order_that_waits(what, now, kind, priority, since):
    causes = look(now, orders=(what,)).causes

    assert [(cause.kind, cause.cause, cause.priority) for cause in causes] == (
        [(kind, "order", priority)] if kind else []
    )
    assert [cause.since for cause in causes] == ([at(since)] if kind else [])


SYRINGE = Container(
    id="syringe", form="syringe", at=at(-20), treatment="epinephrine-push-dose", volume=Amount(10, "mL")
)


@pytest.mark.parametrize(
    ("what", "in_hand", "minutes"),
    [
        ({}, (), 4),
        ({"action": "start", "treatment": "norepinephrine-infusion"}, (), 4),
        ({"treatment": "other", "title": "a drug of its own"}, (), 4),
        ({}, (SYRINGE,), 1),
        ({}, (replace(SYRINGE, treatment="phenylephrine-push-dose"),), 4),
        ({}, (replace(SYRINGE, discarded_at=at(-1)),), 4),
        ({"action": "change", "treatment": "norepinephrine-infusion"}, (), 1),
        ({"action": "hold", "treatment": "norepinephrine-infusion"}, (), 1),
        ({"action": "stop", "treatment": "norepinephrine-infusion"}, (), 1),
    ],
    ids=[
        *("to be mixed", "a bag to be hung", "another drug", "the syringe is in hand", "another syringe is"),
        *("it was discarded", "a new rate", "hold", "stop"),
    ],
)
def test_how_long_a_read_back_may_take(what, in_hand, minutes):
    """60 s for words alone, 4 min for what must be drawn up, mixed or hung first (our choice)."""
    waiting = order("approved", to_read_back_from=at(0), **what)
    before, after = (look(minutes + more, orders=(waiting,), containers=in_hand) for more in (-0.01, 0))

    assert raised(before, "readback_waiting") == []
    assert [each.since for each in raised(after, "readback_waiting")] == [at(minutes)]


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
    watched = look(now, orders=(order(state, to_read_back_from=at(0), expires_at=at(10)),))

    assert watched.expired == (("order",) if expired else ())
    assert not (expired and watched.causes)


def test_an_order_of_a_closed_case_expires_and_asks_nobody():
    approved = (order("approved", to_read_back_from=at(0), expires_at=at(10)),)

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


@pytest.mark.parametrize(
    ("heard", "until", "now", "since"),
    [
        (0, 20, 19.99, None),
        (0, 20, 20, 20),
        (0, 20, 60, 20),
        (18, 20, 22.99, None),
        (18, 20, 23, 23),
        (0, 3, 5, 5),
    ],
    ids=["in the gap", "it is over", "long over", "heard in it", "then silent for 5 min", "a gap shorter than 5 min"],
)
def test_an_announced_gap_in_coverage_holds_the_alert(heard, until, now, since):
    causes = raised(look(now, heard=heard, no_coverage_until=at(until)), "no_contact")

    assert [each.since for each in causes] == ([] if since is None else [at(since)])


@pytest.mark.parametrize(
    ("heard", "until", "now", "overdue", "unknown"),
    [
        (0, 20, 4.99, False, False),
        (0, 20, 5, False, True),
        (0, 4, 5, False, True),
        (2.1, 20, 5, True, False),
        (1, 5, 5, True, False),
        (1, 5.01, 5, False, True),
    ],
    ids=[
        *("not due yet", "in the gap", "gap over, silent for 5 min", "heard since it was due"),
        *("the gap is just over", "not quite over"),
    ],
)
def test_in_an_announced_gap_a_reading_is_unknown_not_overdue(heard, until, now, overdue, unknown):
    """It may have been taken: nothing can come in before the gap is over."""
    watched = look(now, doses=[FIRST], heard=heard, no_coverage_until=at(until))

    assert (bool(watched.overdue), bool(watched.unknown)) == (overdue, unknown)


# ---- time ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("now", "more", "next_at"),
    [
        (0, {}, 5),
        (0, {"doses": [FIRST], "heard": 0.1}, 5),
        (0, {"orders": (order("requested", waiting_since=at(0)),)}, 3),
        (2, {"orders": (order("approved", to_read_back_from=at(0), expires_at=at(3)),)}, 3),
        (0, {"orders": (order("approved", to_read_back_from=at(0), expires_at=at(10)),)}, 4),
        (0, {"no_coverage_until": at(9)}, 9),
        (5, {"doses": [FIRST], "heard": 1, "no_coverage_until": at(5.5)}, 5.5),  # unknown until the gap is over
        (5, {"heard": 0}, 17),  # of a first pressure
        (17, {"heard": 0}, None),
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
        replace(order("approved", to_read_back_from=at(3), expires_at=at(13)), id="another"),
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
