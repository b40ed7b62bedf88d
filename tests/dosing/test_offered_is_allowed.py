"""What guidance offers passes its own check, for every treatment, age, weight, impression and history."""

from __future__ import annotations

from fractions import Fraction
from math import nextafter
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.check import limits
from dosing.check.case import Question, bedside
from dosing.ground import units
from dosing.ground.exact import as_written
from dosing.ground.facts import Age, Amount, Facts, Patient, Proposal, Weight
from dosing.rules.rule_set import RuleSet
from dosing.rules.words import BLEEDING_CAUSES, HISTORY, IMPRESSIONS, ROUTES
from dosing.tell import guidance, left, usual
from tests.copying import replace
from tests.depth import few
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, ago, facts
from tests.dosing.bedside import given as was_given

SETS = {rules.name: rules for rules in (RULES, CONSERVATIVE)}
BEYOND = {"above_most", "above_hard_limit", "weight_unknown", "wrong_stock", "route_not_allowed"}
ages = (
    st.none()
    | st.builds(Age, value=st.integers(0, 400), unit=st.just("days"))
    | st.builds(Age, value=st.integers(0, 230), unit=st.just("months"))
    | st.builds(Age, value=st.integers(0, 110), unit=st.just("years"))
)
weights = st.none() | st.builds(
    Weight,
    value=st.integers(4, 500).map(lambda tenths: tenths / 10) | st.integers(51, 350),
    basis=st.sampled_from(["measured", "stated", "length", "age"]),
)
patients = st.builds(
    Patient,
    age=ages,
    weight=weights,
    history=st.sets(st.sampled_from(sorted(HISTORY)), max_size=2).map(tuple),
    bleeding_cause=st.none() | st.sampled_from(sorted(BLEEDING_CAUSES)),
    pregnancy_weeks=st.none() | st.integers(4, 42),
    onset_at=st.just(ago(30)),
)
hearts_and_lungs = st.fixed_dictionaries(
    {
        "hr": st.sampled_from([None, 38, 55, 180]),
        "rhythm": st.sampled_from([None, "sinus", "complete heart block", "VT", "torsades", "AF", "PEA"]),
        "lungs": st.sampled_from(["clear", "crackles"]),
    }
)


def known_of(patient: Patient, impression: str, low: bool, signs: dict[str, object] | None = None) -> Facts:
    """Nothing given yet, and a fresh pressure."""
    sbp, dbp = (50, 30) if low else (125, 85)
    return replace(facts(sbp=sbp, dbp=dbp, doses=(), signs=signs or {}), patient=patient, impression=impression)


def findings(known: Facts, rules: RuleSet, row: dict[str, Any], amount: dict[str, Any], **more: Any) -> set[str]:
    """What the check finds against an offered amount, more than a caution, by the route and for what it was offered."""
    route = next(each for each in ROUTES if each in row["routes"])
    proposal = Proposal(
        treatment=row["treatment"],
        amount=Amount(amount["value"], amount["unit"]),
        route=route,
        at=TEN,
        indication=row["indication"] or None,
        **more,
    )
    return {each.code for each in limits.check(proposal, known, rules).findings if each.level != "caution"}


@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize("slug", RULES.treatments)
@few
@given(patient=patients, impression=st.sampled_from(sorted(IMPRESSIONS)), low=st.booleans(), signs=hearts_and_lungs)
def test_what_is_offered_is_inside_what_is_allowed(slug, name, patient, impression, low, signs):
    """Least, most and each usual amount, at each strength beside which a volume stands."""
    rules, known = SETS[name], known_of(patient, impression, low, signs)
    at_bedside = bedside(known, rules, TEN)
    for treatment in rules.given_for[slug]:
        row = guidance.entry(Question(bedside=at_bedside, treatment=treatment))
        field = "concentration" if treatment.form == "infusion" else "stock"
        offered = [(row[name], None) for name in ("least", "most") if row["most"] and row[name]]
        for each in row["usual"]:
            strengths = [Amount(**one["strength"]) for one in each["volumes"]]
            offered += [(each["amount"], strength) for strength in strengths or [None]]
        for amount, strength in offered:
            found = findings(known, rules, row, amount, **({} if strength is None else {field: strength}))
            assert not found & BEYOND, (amount, strength)


@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize("slug", [slug for slug, each in RULES.treatments.items() if each.form != "infusion"])
@few
@given(patient=patients, impression=st.sampled_from(sorted(IMPRESSIONS)), part=st.integers(1, 9))
def test_what_is_offered_after_some_was_given_is_inside_what_is_left(slug, name, patient, impression, part):
    """A tenth to nine tenths of the total long ago: no further amount offered passes it."""
    rules, known = SETS[name], known_of(patient, impression, low=True)
    before = guidance.entry(Question(bedside=bedside(known, rules, TEN), treatment=rules.given_for[slug][0]))
    total = before["left"]["total"]
    if total is None or before["held"]:
        return
    of = {"route": before["routes"][0], "indication": before["indication"]}
    earlier = was_given(slug, 600, total["value"] * part / 10, total["unit"], **of)
    known = replace(known, doses=(earlier,))
    row = guidance.entry(Question(bedside=bedside(known, rules, TEN), treatment=rules.given_for[slug][0]))
    for amount in [row["most"], *(each["amount"] for each in row["usual"])]:
        found = findings(known, rules, row, amount) if amount else set()
        assert "total_reached" not in found, (amount, earlier)


@pytest.mark.parametrize("slug", RULES.treatments)
@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_each_hard_limit_per_kg_has_an_amount_that_it_never_exceeds(slug, rules):
    """A weight typed wrong opens no higher dose than that."""
    hard = [band.hard for band in rules.treatments[slug].bands if band.hard is not None and band.hard.per_kg]

    assert all(each.at_most is not None for each in hard)


@pytest.mark.parametrize("part", [Fraction(1, 3), Fraction(5, 9)], ids=str)  # floats below and above them
def test_a_limit_that_no_float_is_is_shown_on_its_safe_side(part):
    asked = Question(bedside=bedside(facts(), RULES, TEN), treatment=RULES.treatment("norepinephrine-infusion"))
    exact = units.exactly(part, "mcg/min")
    most, least = (left.shown(exact, asked, "mcg/min", up=up)["value"] for up in (False, True))
    offered = usual.usual(asked, "mcg/min", {"least": exact, "guide": None, "most": exact + exact})

    assert as_written(most) < part < as_written(least)
    assert least == nextafter(most, 1)
    assert as_written(offered[0]["amount"]["value"]) > part
    assert as_written(offered[-1]["amount"]["value"]) < 2 * part


@pytest.mark.parametrize(
    ("guide", "offered"),
    [(None, [1, 3, 9]), (1, [1, 3, 9]), (4, [1, 4, 9]), (9, [1, 3, 9]), (10, [1, 3, 9])],
)
def test_between_least_and_most_stands_the_guide_or_their_middle(guide, offered):
    """The geometric middle in one digit; a guide above the most is the most (our choice, no source)."""
    asked = Question(bedside=bedside(facts(), RULES, TEN), treatment=RULES.treatment("norepinephrine-infusion"))
    limits_of = {"least": 1, "guide": guide, "most": 9}
    exact = {
        name: None if each is None else units.exactly(Fraction(each), "mcg/min") for name, each in limits_of.items()
    }

    assert [each["amount"]["value"] for each in usual.usual(asked, "mcg/min", exact)] == offered
