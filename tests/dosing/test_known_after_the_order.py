"""An order covers what its physician saw: what became known after it wants an order of its own.

Common practice of medical control, no source: who orders answers for what they knew.
"""

from typing import Any

import pytest

from dosing.check import limits
from dosing.ground.facts import Amount, Dose, Facts, Order, Reading
from dosing.ground.seen import Seen
from tests.copying import replace
from tests.dosing.bedside import adult, ago, check, child, facts, given

CEFTRIAXONE, FENTANYL, KETAMINE, PUSH = (
    "ceftriaxone",
    "fentanyl",
    "ketamine",
    "epinephrine-push-dose",
)
AWAKE = {"gcs": 15, "rr": 16, "spo2": 97}
CALM: dict[str, Any] = {"sbp": 124, "dbp": 76, "signs": AWAKE}
ANAPHYLAXIS = adult(allergies=("penicillin anaphylaxis",))


def ordered(treatment: str, value: float, unit: str, then: Facts, minutes_ago: float = 5, **more: Any) -> Order:
    """Dr Okoye's order of a dose, read back, with what its check found at the decision."""
    how = {"indication": more["indication"]} if "indication" in more else {}
    found = check(treatment, value, unit, then, **how).findings
    seen = tuple(Seen(each.code, each.text, each.limit) for each in found if each.level != "caution")
    known = {"id": "o1", "state": "read_back", "by": "Dr Okoye", "decided_at": ago(minutes_ago), "seen": seen}
    return Order(treatment=treatment, amount=Amount(value, unit), **known | more)


def gravest(checked: limits.Check, code: str) -> tuple[str, str]:
    """Level and words of a finding."""
    return next((each.level, each.text) for each in checked.findings if each.code == code)


@pytest.mark.parametrize(
    ("treatment", "dose", "then", "now", "code"),
    [
        pytest.param(
            CEFTRIAXONE, (2, "g"), facts(**CALM), facts(ANAPHYLAXIS, **CALM), "allergy", id="an allergy is recorded"
        ),
        pytest.param(
            FENTANYL,
            (40, "mcg"),
            facts(**CALM),
            facts(sbp=124, dbp=76, signs={"gcs": 6, "rr": 6, "spo2": 80}),
            "signs_missing",
            id="the breathing slows",
        ),
        pytest.param(
            CEFTRIAXONE,
            (2, "g"),
            facts(adult(allergies=("cephalosporin rash",)), **CALM),
            facts(adult(allergies=("cephalosporin rash", "penicillin anaphylaxis")), **CALM),
            "allergy",
            id="one more allergy",
        ),
    ],
)
def test_what_was_not_seen_wants_an_order_still(treatment, dose, then, now, code):
    order = ordered(treatment, *dose, then)
    level, words = gravest(check(treatment, *dose, now, order=order), code)

    assert level == "needs_order"
    assert words.endswith("; known only after Dr Okoye ordered this at 09:55 UTC")
    assert check(treatment, *dose, now, order=order).verdict in ("needs_order", "over_hard_limit")


SLOW = {"gcs": 15, "rr": 7, "spo2": 97}


@pytest.mark.parametrize(
    ("treatment", "dose", "then", "now"),
    [
        pytest.param(CEFTRIAXONE, (2, "g"), facts(ANAPHYLAXIS, **CALM), facts(ANAPHYLAXIS, **CALM), id="seen"),
        pytest.param(
            CEFTRIAXONE, (2, "g"), facts(**CALM), facts(adult(allergies=("latex",)), **CALM), id="to something else"
        ),
        pytest.param(
            CEFTRIAXONE, (2, "g"), facts(ANAPHYLAXIS, **CALM), facts(adult(), **CALM), id="an allergy taken back"
        ),
        pytest.param(
            FENTANYL,
            (40, "mcg"),
            facts(sbp=124, dbp=76, signs=SLOW),
            facts(sbp=124, dbp=76, signs=SLOW | {"rr": 6}),
            id="the number of a sign that was seen moves",
        ),
        pytest.param(PUSH, (30, "mcg"), facts(), facts(sbp=60, dbp=36), id="a pressor on a lower pressure"),
    ],
)
def test_what_was_seen_is_covered(treatment, dose, then, now):
    order = ordered(treatment, *dose, then)

    assert check(treatment, *dose, now, order=order).verdict in ("within", "caution")


def test_a_pressure_that_grew_old_since_is_nothing_new_of_the_patient():
    """The demonstration rules want one of the last 5 min for a pressor; the order holds longer."""
    order = ordered(PUSH, 30, "mcg", facts(), minutes_ago=0)
    old = check(PUSH, 30, "mcg", facts(), at=ago(-7), order=order)

    assert gravest(old, "pressure_unknown")[0] == "caution"


@pytest.mark.parametrize("then", [facts(**CALM), facts(readings=(), signs=AWAKE)], ids=["a pressure", "none yet"])
def test_no_pulse_since_is_news(then):
    order = ordered(FENTANYL, 40, "mcg", then)
    unobtainable = Reading(taken_at=ago(1), bp_method="unobtainable", pulses="none")
    lost = facts(readings=(unobtainable,), signs=AWAKE)

    assert gravest(check(FENTANYL, 40, "mcg", lost, order=order), "pressure_unknown")[0] == "needs_order"


@pytest.mark.parametrize(
    ("then", "now", "level"), [(20, 9, "needs_order"), (9, 9, "caution"), (9, 9.5, "caution"), (20, 12, None)]
)
def test_a_limit_that_became_lower_is_news(then, now, level):
    """Ketamine for induction, 20 mg: the demonstration rules have 2 mg/kg as most, 18 mg of 9 kg."""
    order = ordered(KETAMINE, 20, "mg", facts(child(5, then), **CALM), indication="induction")
    checked = check(KETAMINE, 20, "mg", facts(child(5, now), **CALM), order=order, indication="induction")

    assert next((each.level for each in checked.findings if each.code == "above_most"), None) == level


@pytest.mark.parametrize(("given_by_it", "level"), [(0, "needs_order"), (1, "caution")])
def test_a_dose_in_between_is_news_unless_the_order_itself_asked_for_it(given_by_it, level):
    """The rules say 2 min between pushes; of a series of two the second was ordered with the first."""
    order = ordered(PUSH, 30, "mcg", facts(), times=2, given=given_by_it)
    since = facts(doses=(*facts().doses, given(PUSH, 1, 20, "mcg")))

    assert gravest(check(PUSH, 30, "mcg", since, order=order), "too_soon")[0] == level


def test_an_order_that_nothing_was_checked_for_covers_as_it_did():
    order = ordered(CEFTRIAXONE, 2, "g", facts(**CALM), seen=None)

    assert check(CEFTRIAXONE, 2, "g", facts(ANAPHYLAXIS, **CALM), order=order).verdict == "caution"


@pytest.mark.parametrize(("kg", "level"), [(20, "caution"), (9, "over_hard_limit")])
def test_a_hard_limit_that_became_lower_is_beyond_what_was_cosigned(kg, level):
    """Ketamine for the intubated, 45 mg: the hard limit of 2 mg/kg is 40 mg of 20 kg, 18 of 9."""
    how = {"indication": "intubated"}
    order = ordered(KETAMINE, 45, "mg", facts(child(5, 20), **CALM), cosigned_by="Dr Quillan", **how)
    checked = check(KETAMINE, 45, "mg", facts(child(5, kg), **CALM), order=order, **how)

    assert gravest(checked, "above_hard_limit")[0] == level


@pytest.mark.parametrize(("metoprolol", "level"), [(False, "caution"), (True, "needs_order")])
def test_another_beta_blocker_that_was_seen_is_no_news_later_and_one_more_is(metoprolol, level):
    """Told by the time at which it was given, which stands still while minutes pass."""
    labetalol = given("labetalol", 20, 20, "mg", route="IV")
    known = facts(sbp=180, dbp=100, signs={"hr": 120, "sbp": 180, "rr": 16}, doses=(labetalol,))
    seen = check("esmolol", 40, "mg", known, at=ago(4)).findings
    order = ordered("esmolol", 40, "mg", known, seen=tuple(Seen(each.code, each.text, each.limit) for each in seen))
    more = (Dose(id="m", treatment="other", name="metoprolol 5 mg", given_at=ago(2), route="IV"),) if metoprolol else ()

    now = replace(known, doses=(labetalol, *more))
    assert gravest(check("esmolol", 40, "mg", now, order=order), "history")[0] == level
