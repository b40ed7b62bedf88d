"""What counts over a class of drugs: the interval, the pressure since the last dose; a sedative beside an opioid.

Intervals: the demonstration rules (pushes 2 min, ketamine 10, midazolam 5, fentanyl 10). An opioid beside a sedative:
FDA boxed warning of 2016, from memory; within 10 min: our choice.
"""

from __future__ import annotations

import copy
import json
from datetime import timedelta

import pytest

from dosing.ground.facts import Dose, Facts, Order, Rate, Reading
from dosing.load import reader
from dosing.load.faults import RuleSetFaults
from dosing.rules.plain import plain
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, ago, check, codes, facts, told
from tests.dosing.bedside import given as dose

PUSH, OTHER_PUSH, DRIP = "epinephrine-push-dose", "phenylephrine-push-dose", "norepinephrine-infusion"
FLUID = dose("crystalloid-bolus", 60, 1, "mL")
NORMAL = (Reading(taken_at=ago(0), sbp=120, dbp=80),)


def after(*doses: Dose, **more) -> Facts:
    """A case in which these were given, with a pressure taken just now unless said otherwise."""
    return facts(
        doses=(FLUID, *doses), readings=more.pop("readings", (Reading(taken_at=ago(0), sbp=70, dbp=40),)), **more
    )


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=["demonstration", "conservative"])
@pytest.mark.parametrize(
    ("treatment", "drug_class"),
    [
        *((slug, "pressor") for slug in (PUSH, OTHER_PUSH, DRIP, "epinephrine-infusion", "dopamine-infusion")),
        *((slug, "pressor") for slug in ("phenylephrine-infusion", "vasopressin-infusion")),
        ("epinephrine-im", "other"),
        ("ketamine", "sedative"),
        ("midazolam", "sedative"),
        ("fentanyl", "opioid"),
        ("crystalloid-bolus", "fluid"),
        ("blood-product", "blood"),
    ],
)
def test_each_treatment_names_its_class(rules, treatment, drug_class):
    assert rules.treatments[treatment].drug_class == drug_class
    listed = {each["treatment"]: each["class"] for each in plain(rules)["treatments"]}
    assert listed[treatment] == drug_class


def test_a_file_without_classes_is_told_each_treatment_and_line():
    content = copy.deepcopy(RULES.content)
    for slug in ("atropine", "fentanyl"):
        del content["treatments"][slug]["class"]

    with pytest.raises(RuleSetFaults) as refused:
        reader.loads(json.dumps(content))

    told = {fault.entry: fault.text for fault in refused.value.faults}
    assert told == {"treatments.atropine.class": "is missing", "treatments.fentanyl.class": "is missing"}


@pytest.mark.parametrize(
    ("treatment", "amount", "before", "seconds", "soon"),
    [
        pytest.param(
            OTHER_PUSH, (200, "mcg"), dose(PUSH, 1 / 3, 20, "mcg"), 20, True, id="phenylephrine 20 s after epinephrine"
        ),
        pytest.param(
            PUSH, (10, "mcg"), dose(OTHER_PUSH, 1, 100, "mcg"), 60, True, id="epinephrine 1 min after phenylephrine"
        ),
        pytest.param(PUSH, (10, "mcg"), dose(OTHER_PUSH, 2, 100, "mcg"), 120, False, id="2 min after"),
        pytest.param(
            PUSH,
            (10, "mcg"),
            dose(DRIP, 1, 8, "mcg/min", status="running"),
            60,
            True,
            id="after the start of an infusion",
        ),
        pytest.param(
            PUSH, (10, "mcg"), dose("epinephrine-im", 1, 0.5, "mg"), 60, False, id="after one into the muscle"
        ),
        pytest.param(
            "midazolam", (1, "mg"), dose("ketamine", 3, 20, "mg"), 180, True, id="midazolam 3 min after ketamine"
        ),
        pytest.param(
            "midazolam", (1, "mg"), dose("fentanyl", 1, 20, "mcg"), 60, False, id="an opioid is another class"
        ),
        pytest.param("atropine", (1, "mg"), dose("naloxone", 1, 1, "mg"), 60, False, id="no class at all"),
    ],
)
def test_the_interval_counts_over_the_class(treatment, amount, before, seconds, soon):
    known = after(before)

    assert ("too_soon" in codes(check(treatment, *amount, known))) is soon
    free = told(treatment, known)["next_at"]
    interval = timedelta(minutes=RULES.treatments[treatment].interval.value)
    assert (free is not None and free == before.given_at + interval) is (soon or seconds == 120)


def test_the_drug_that_was_given_is_named_and_the_time_that_is_free_told():
    checked = check(OTHER_PUSH, 100, "mcg", after(dose(PUSH, 1, 20, "mcg")))

    assert [one.text for one in checked.findings if one.code == "too_soon"] == [
        "1 min after the last dose of EPINEPHrine push dose, no sooner than 2 min"
    ]
    assert checked.next_at == TEN + timedelta(minutes=1)


def test_of_an_infusion_its_start_is_named():
    rate = dose(DRIP, 0, 8, "mcg/min").amount
    checked = check(PUSH, 10, "mcg", after(dose(DRIP, 1, 8, "mcg/min", status="running", rates=(Rate(ago(1), rate),))))

    assert "1 min after the start of norepinephrine infusion, no sooner than 2 min" in [
        one.text for one in checked.findings
    ]


def test_a_new_rate_is_no_dose():
    rates = tuple(Rate(ago(minutes), dose(DRIP, 0, 8, "mcg/min").amount) for minutes in (30, 1))
    drip = dose(DRIP, 30, 8, "mcg/min", status="running", rates=rates, changed_at=ago(1))
    known = after(drip, readings=(Reading(taken_at=ago(2), sbp=70, dbp=40),))

    assert not {"too_soon", "no_pressure_since_last_dose"} & codes(check(PUSH, 10, "mcg", known))
    assert "no_pressure_since_last_dose" in codes(check(DRIP, 9, "mcg/min", known))  # of the very infusion it is one


@pytest.mark.parametrize(
    ("treatment", "amount", "before", "wanting"),
    [
        (OTHER_PUSH, (100, "mcg"), dose(PUSH, 3, 10, "mcg"), True),
        (DRIP, (8, "mcg/min"), dose(PUSH, 3, 10, "mcg"), True),
        (PUSH, (10, "mcg"), dose(DRIP, 3, 8, "mcg/min", status="running"), True),
        (PUSH, (10, "mcg"), dose(DRIP, 3, 8, "mcg/min", status="running", prior=True), False),
        (PUSH, (10, "mcg"), dose("epinephrine-im", 3, 0.5, "mg"), False),
        ("midazolam", (1, "mg"), dose("ketamine", 6, 20, "mg"), True),
        ("ketamine", (10, "mg"), dose("fentanyl", 3, 20, "mcg"), False),
    ],
)
def test_a_pressure_since_the_last_dose_of_the_class(treatment, amount, before, wanting):
    earlier = (Reading(taken_at=ago(before_minutes(before) + 1), sbp=120, dbp=50),)
    since = (*earlier, Reading(taken_at=ago(1), sbp=120, dbp=50))

    assert (
        "no_pressure_since_last_dose" in codes(check(treatment, *amount, after(before, readings=earlier)))
    ) is wanting
    assert "no_pressure_since_last_dose" not in codes(check(treatment, *amount, after(before, readings=since)))


def before_minutes(given: Dose) -> float:
    return (TEN - given.given_at) / timedelta(minutes=1)


def test_counts_and_totals_stay_those_of_the_treatment():
    pushes = tuple(dose(PUSH, minutes, 20, "mcg") for minutes in (20, 17, 14, 11, 8))
    known = after(*pushes)

    assert {"count_reached", "total_reached"} <= codes(check(PUSH, 10, "mcg", known))
    assert not {"count_reached", "total_reached"} & codes(check(OTHER_PUSH, 100, "mcg", known))


def test_an_order_for_every_so_many_minutes_counts_its_own_drug():
    ordered = Order(id="o", treatment=PUSH, state="read_back", times=3, given=1, every_min=5, by="Dr. Merrin")
    known = after(dose(PUSH, 6, 10, "mcg"), dose(OTHER_PUSH, 1, 100, "mcg"))
    found = [one for one in check(PUSH, 10, "mcg", known, order=ordered).findings if one.code == "too_soon"]

    assert [(one.level, one.text[:22]) for one in found] == [("caution", "ordered by Dr. Merrin:")]


@pytest.mark.parametrize(
    ("treatment", "amount", "other", "told_so"),
    [
        ("midazolam", (1, "mg"), dose("fentanyl", 10, 50, "mcg"), True),
        ("midazolam", (1, "mg"), dose("fentanyl", 10.1, 50, "mcg"), False),
        ("fentanyl", (20, "mcg"), dose("midazolam", 10, 1, "mg"), True),
        ("fentanyl", (20, "mcg"), dose("ketamine", 10.1, 20, "mg"), False),
        ("fentanyl", (20, "mcg"), dose("midazolam", 3, 1, "mg", prior=True), True),
        ("midazolam", (1, "mg"), dose("fentanyl", -5, 50, "mcg"), False),  # what came later is told of the later dose
        ("midazolam", (1, "mg"), dose("ketamine", 3, 20, "mg"), False),
        (PUSH, (10, "mcg"), dose("fentanyl", 3, 20, "mcg"), False),
    ],
)
def test_a_sedative_and_an_opioid_close_together_are_told(treatment, amount, other, told_so):
    found = check(treatment, *amount, after(other, readings=NORMAL)).findings

    assert [one.level for one in found if one.code == "opioid_with_sedative"] == ["caution"] * told_so
