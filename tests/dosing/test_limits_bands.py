"""For whom a band of limits holds, and what a limit comes to where nobody knows the weight."""

from typing import Any

import pytest

from dosing.check.bands import DoseLimits, Person, fits, told_apart
from dosing.ground import units
from dosing.ground.facts import Amount, Patient, Weight
from dosing.patient.growth import likely
from dosing.rules.rule_set import Where
from tests.copying import replace
from tests.dosing.bedside import RULES, adult, check, child, facts


def person(kg: float | None = 18, days: float | None = 1825, *, adult: bool = False, **more: Any) -> Person:
    weight = None if kg is None else units.quantity(Amount(kg, "kg"))
    return Person(adult=adult, days=days, weight=weight, **more)


@pytest.mark.parametrize(
    ("where", "whom", "holds"),
    [
        ({}, person(), True),
        ({"who": "child"}, person(), True),
        ({"who": "child"}, person(adult=True), False),
        ({"who": "adult"}, person(adult=True), True),
        ({"impressions": frozenset({"septic"})}, person(impression="septic"), True),
        ({"impressions": frozenset({"septic"})}, person(), False),
        ({"bleeding_causes": frozenset({"gut"})}, person(bleeding_cause="gut"), True),
        ({"bleeding_causes": frozenset({"gut"})}, person(), False),
        ({"weight": "known"}, person(), True),
        ({"weight": "known"}, person(None), False),
        ({"weight": "unknown"}, person(), False),
        ({"weight": "unknown"}, person(None), True),
        ({"pressure_low": True}, person(pressure_low=True), True),
        ({"pressure_low": True}, person(pressure_low=False), False),
        ({"pressure_low": True}, person(), False),
        ({"pressure_low": False}, person(pressure_low=True), False),
        ({"pressure_low": False}, person(), True),
        ({"from_kg": 30}, person(29.9), False),
        ({"from_kg": 30}, person(30), True),
        ({"from_kg": 30}, person(None), False),
        ({"under_kg": 30}, person(29.9), True),
        ({"under_kg": 30}, person(30), False),
        ({"under_kg": 30}, person(None), False),
        ({"from_kg": 3, "under_kg": 30}, person(2.9), False),
        ({"from_kg": 3, "under_kg": 30}, person(30), False),
        ({"from_days": 28}, person(days=27), False),
        ({"from_days": 28}, person(days=28), True),
        ({"from_days": 28}, person(days=None), False),
        ({"under_days": 28}, person(days=27), True),
        ({"under_days": 28}, person(days=28), False),
        ({"who": "child", "under_kg": 30}, person(20, adult=True), False),
    ],
)
def test_a_band_holds_from_its_start_to_before_its_end_and_for_nobody_of_whom_that_is_unknown(where, whom, holds):
    """An unknown pressure counts as not below its goal."""
    assert fits(Where(**where), whom) is holds


def test_every_tenth_of_a_kilogram_is_on_its_own_edge():
    """1.1 as a binary number is a little more than 11/10: who weighs just that is not under 1.1 kg."""
    for kg in (tenths / 10 for tenths in range(3, 1001)):
        assert fits(Where(from_kg=kg), person(kg))
        assert not fits(Where(under_kg=kg), person(kg))


@pytest.mark.parametrize(("slug", "low"), [("fentanyl", {None, True}), ("dextrose", {None})])
def test_people_are_told_apart_by_what_a_band_asks_for_alone(slug, low):
    """No band of either names an impression, and of the two fentanyl's alone ask for a low pressure."""
    ways = {(each["impression"], each["pressure_low"]) for each in told_apart(RULES.treatments[slug])}

    assert ways == {("undifferentiated", each) for each in low}


@pytest.mark.parametrize(
    ("treatment", "dose", "words"),
    [
        ("crystalloid-bolus", (1000, "mL"), []),
        (
            "crystalloid-bolus",
            (1001, "mL"),
            ["1,001 mL is over the standing limit of 1,000 mL (30 mL/kg, at most 1,000 mL)"],
        ),
        ("atropine", (0.5, "mg"), []),
        ("atropine", (0.6, "mg"), ["0.6 mg is over the standing limit of 0.5 mg (0.02 mg/kg, at most 0.5 mg)"]),
    ],
)
def test_without_a_weight_what_is_above_the_cap_is_above_the_limit(treatment, dose, words):
    """What a child of any weight would get too much by: at 12 years the likely weight passes the cap."""
    found = check(treatment, *dose, facts(child(12, None))).findings

    assert [one.text for one in found if one.code == "above_most"] == [
        f"{each} for a child of 12 years and unknown weight" for each in words
    ]


@pytest.mark.parametrize(("kg", "most"), [(None, None), (18, 540), (40, 1000)])
def test_a_limit_per_kg_says_nothing_without_a_weight(kg, most):
    """30 mL/kg, at most 1,000 mL: 540 mL at 18 kg; 1,200 at 40 kg are held to 1,000."""
    exact = DoseLimits(RULES.treatments["crystalloid-bolus"], person(kg)).exact("most")

    assert exact == (None if most is None else units.quantity(Amount(most, "mL")))


def test_an_unknown_weight_is_told_by_the_hard_limit_where_no_other_is_stated():
    """Phenylephrine is not for a crew to give to a child; its hard limit is 20 mcg/kg."""
    found = check("phenylephrine-push-dose", 50, "mcg", facts(child(5, None))).findings

    assert "weight unknown: cannot calculate the 20 mcg/kg limit" in [one.text for one in found]


@pytest.mark.parametrize(
    ("treatment", "dose", "found"),
    [
        ("norepinephrine-infusion", (14.3, "mcg/min"), None),
        (
            "norepinephrine-infusion",
            (14.4, "mcg/min"),
            "hard limit of 14.3 mcg/min (1 mcg/kg/min, at 14.3 kg, likely",
        ),
        (
            "dopamine-infusion",
            (2900, "mcg/min"),
            "hard limit of 286 mcg/min (20 mcg/kg/min, at 14.3 kg, likely for that age)",
        ),
        ("epinephrine-push-dose", (21, "mcg"), "hard limit of 20 mcg (5 mcg/kg, at most 20 mcg)"),
        ("epinephrine-im", (0.31, "mg"), "hard limit of 0.3 mg for"),
        ("epinephrine-im", (0.15, "mg"), None),
    ],
)
def test_a_child_whom_nobody_weighed_is_taken_to_be_as_heavy_as_is_likely(treatment, dose, found):
    """Half of all boys weigh 14.3 kg at 36 months (WHO 2006, median): what is too much for that is too much."""
    checked = check(treatment, *dose, facts(child(2, None)))
    hard = [each.text for each in checked.findings if each.code == "above_hard_limit"]

    assert [found in each for each in hard] == ([] if found is None else [True])
    assert (checked.verdict == "over_hard_limit") is (found is not None)


@pytest.mark.parametrize(("kg", "grams"), [(None, 100), (18, 9)], ids=["not weighed", "weighed"])
def test_what_is_stated_for_the_unweighed_of_an_age_stands(kg, grams):
    """Dextrose by age, made 100 g here: more than the 9 g that the rule set's 0.5 g/kg allow at 18 kg."""
    dextrose, much = RULES.treatments["dextrose"], Amount(100, "g")
    stated = tuple(
        replace(band, most=replace(band.most, amount=much, exact=units.quantity(much)))
        if band.where.weight == "unknown" and band.most
        else band
        for band in dextrose.bands
    )
    whom = person(kg, likely=units.quantity(Amount(18, "kg")))

    assert DoseLimits(replace(dextrose, bands=stated), whom).ceiling("most") == units.quantity(Amount(grams, "g"))


def test_the_likely_weight_of_an_age_says_nothing_of_a_child_that_was_weighed_nor_of_adults():
    weighed, grown = child(2, 12), adult(None)

    assert (likely(weighed), likely(grown), likely(Patient())) == (None, None, None)
    assert likely(child(2, None)) == Weight(14.3, "kg", "age")
    told = [each.text for each in check("norepinephrine-infusion", 13, "mcg/min", facts(weighed)).findings]
    assert "1.08 mcg/kg/min is over the hard limit of 1 mcg/kg/min for a child of 2 years and 12 kg" in told
