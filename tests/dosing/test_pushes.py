"""The last pushes: when they wear off, and the infusion rate that they come to."""

import pytest
from hypothesis import given as drawn
from hypothesis import strategies as st

from dosing.check.case import Question, bedside
from dosing.tell import pushes
from tests.dosing.bedside import RULES, TEN, adult, ago, child, facts, given, told
from tests.dosing.dosing_values import ROWS, numbers

PUSH, DRIP = "epinephrine-push-dose", "epinephrine-infusion"
OTHER, OTHER_DRIP = "phenylephrine-push-dose", "phenylephrine-infusion"


def pushed(*minutes_ago, amount=10, treatment=PUSH, **more):
    return facts(doses=tuple(given(treatment, each, amount, "mcg", **more) for each in minutes_ago))


def test_how_long_a_push_lasts_is_as_published():
    """PDP-004 and REA-002: 5-10 min."""
    lasts = RULES.treatments[PUSH].lasts

    assert [lasts.least, lasts.most] == numbers(ROWS["PDP-004"]["expected"])[1:]
    assert "5-10 min" in ROWS["REA-002"]["expected"]
    assert lasts.source.mark == "read"


def test_a_push_wears_off_between_two_times():
    got = told(PUSH, pushed(6, 2))["wears_off"]

    assert (got["last_at"], got["earliest"], got["latest"]) == (ago(2), ago(-3), ago(-8))
    assert got["text"] == "The last push wears off 5 to 10 min after it"
    assert "EMCrit" in got["source"]


@pytest.mark.parametrize(
    ("minutes_ago", "treatment", "known"),
    [(9.9, PUSH, True), (10, PUSH, False), (19, OTHER, True), (20, OTHER, False)],
)
def test_once_it_has_worn_off_nothing_is_said(minutes_ago, treatment, known):
    assert (told(treatment, pushed(minutes_ago, treatment=treatment))["wears_off"] is not None) is known


@pytest.mark.parametrize(
    ("known", "treatment"),
    [(facts(), PUSH), (pushed(2), DRIP), (pushed(2, prior=True), PUSH), (pushed(-2), PUSH)],
    ids=["none given", "an infusion", "given by others", "not yet given"],
)
def test_what_does_not_wear_off(known, treatment):
    assert told(treatment, known)["wears_off"] is None


def test_pushes_as_a_rate():
    """10 mcg every 2 min is 5 mcg/min by arithmetic; for 80 kg 0.0625 mcg/kg/min."""
    got = told(DRIP, pushed(7, 5, 3, 1))["from_pushes"]

    assert (got["treatment"], got["pushes"], got["first_at"], got["last_at"]) == (PUSH, 4, ago(7), ago(1))
    assert got["rates"] == [{"value": 0.0625, "unit": "mcg/kg/min"}, {"value": 5, "unit": "mcg/min"}]
    assert {"strength": {"value": 10, "unit": "mcg/mL"}, "rate": {"value": 30, "unit": "mL/h"}} in got["pump"]
    assert got["text"].startswith(
        "30 mcg pushed in the 6 min before the last push came to 0.0625 mcg/kg/min = 5 mcg/min, by pump "
    )
    assert "by pump 75 mL/h of 4 mcg per mL, 30 mL/h of 10 mcg per mL" in got["text"]
    assert got["text"].endswith("Information, not advice")
    assert got["source"]


def test_the_last_push_has_only_begun_to_act():
    """20 mcg over the 4 min before a push of 10 mcg: 5 mcg/min, whatever the last one was."""
    doses = (given(PUSH, 6, 20, "mcg"), given(PUSH, 2, 10, "mcg"))

    assert told(DRIP, facts(doses=doses))["from_pushes"]["rates"][1] == {"value": 5, "unit": "mcg/min"}


def test_only_the_newest_four_that_followed_each_other_count():
    assert told(DRIP, pushed(30, 9, 7, 5, 3, 1))["from_pushes"]["pushes"] == 4
    assert told(DRIP, pushed(17, 5, 3))["from_pushes"]["pushes"] == 2
    assert told(DRIP, pushed(13, 3, 1))["from_pushes"]["pushes"] == 3


@pytest.mark.parametrize(
    "known",
    [pushed(), pushed(2), pushed(14, 3), pushed(14, 12, 10), pushed(4, 2, prior=True), pushed(4, 2, treatment=OTHER)],
    ids=["none", "one", "too far apart", "worn off", "given by others", "another drug"],
)
def test_no_rate_is_made_up(known):
    assert told(DRIP, known)["from_pushes"] is None


def test_two_pushes_at_one_moment_have_no_rate():
    doses = tuple(given(PUSH, 2, amount, "mcg") for amount in (10, 20))

    assert told(DRIP, facts(doses=doses))["from_pushes"] is None


def test_another_drug_has_a_rate_of_its_own():
    known = pushed(5, 3, 1, amount=100, treatment=OTHER)

    assert told(OTHER_DRIP, known)["from_pushes"]["rates"][1] == {"value": 50, "unit": "mcg/min"}
    assert told("norepinephrine-infusion", known)["from_pushes"] is None


@pytest.mark.parametrize(("patient", "rates"), [(adult(None), ["mcg/min"]), (child(5, 20), ["mcg/kg/min", "mcg/min"])])
def test_per_kg_only_where_the_weight_is_known(patient, rates):
    known = facts(patient, doses=(given(PUSH, 3, 10, "mcg"), given(PUSH, 1, 10, "mcg")))

    assert [each["unit"] for each in told(DRIP, known)["from_pushes"]["rates"]] == rates


def test_a_push_per_kg_of_an_unknown_weight_has_no_rate():
    doses = (given(PUSH, 3, 0.1, "mcg/kg"), given(PUSH, 1, 0.1, "mcg/kg"))

    assert told(DRIP, facts(adult(None), doses=doses))["from_pushes"] is None


@drawn(st.integers(1, 40), st.integers(1, 9), st.integers(2, 4))
def test_even_pushes_come_to_amount_over_interval(amount, apart, count):
    known = pushed(*(apart * number for number in reversed(range(count))), amount=amount)
    question = Question(bedside=bedside(known, RULES, TEN), treatment=RULES.treatments[PUSH])

    assert pushes.last_run(question).per_min.magnitude * apart == amount
