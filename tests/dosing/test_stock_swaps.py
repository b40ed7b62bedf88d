"""Every strength that the rules list, in the hand for every other: the swap is found and its dose is named."""

import re

import pytest

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.phases import PhaseChange
from dosing.mix import stock
from tests.depth import thinned
from tests.dosing.bedside import CONSERVATIVE, RULES, adult, ago, check, facts, usual_dose, usual_route
from tests.dosing.other_units import library

WEIGHT_KG = 80
SAID = re.compile(r"([\d.,]+) ([^ ,]+), not ")


def amount(said: str) -> Amount:
    number, unit = said.split()
    return Amount(float(number), unit)


def in_library(said: Amount):
    """The amount in the published unit library, with body weight taken out and units of activity of our own."""
    unit = re.sub(r"\bunits?\b", "drug_unit", said.unit)
    return said.value * library().parse_units(unit)


def those(fitting=lambda treatment: True):
    """Every treatment of both rule sets that comes in a strength and fits."""
    return [
        pytest.param(rules, treatment, id=f"{rules.name}, {treatment.slug}")
        for rules in (RULES, CONSERVATIVE)
        for treatment in rules.treatments.values()
        if stock.strengths(treatment) and fitting(treatment)
    ]


def of_its_kind(rules, treatment):
    """Each strength of the rule set that measures the same kind as the treatment's: its own, some of the others'."""
    own = {one.exact: one.amount for one in stock.strengths(treatment)}
    kind = next(iter(own)).units
    listed = {one.exact: one.amount for each in rules.treatments.values() for one in stock.strengths(each)}
    others = [strength for exact, strength in listed.items() if exact.units == kind and exact not in own]
    return [*own.values(), *thinned(others, every=4, first=len(treatment.slug))]


def put(rules, treatment, strength):
    field = "concentration" if treatment.form == "infusion" else "stock"
    dose = usual_dose(treatment)  # which one matters little: the ratio of what is named to it does
    arrest = (PhaseChange(id="arrest", phase="arrest", at=ago(5)),)  # where its usual use is there
    phases = arrest if rules.treatment(treatment.slug).phases == {"arrest"} else ()
    known = facts(adult(WEIGHT_KG), signs={"hr": 50}, phases=phases)
    return check(treatment.slug, dose.value, dose.unit, known, rules=rules, **{field: strength})


def right_strengths(treatment):
    """What may be in the hand: what the crew's recipe starts from and makes, or what comes ready."""
    if treatment.recipe is not None:
        return [treatment.recipe.stock, treatment.recipe.makes]
    if treatment.form == "infusion":
        return list(treatment.concentrations)
    return [one for one in treatment.stocks if not one.routes or usual_route(treatment.slug) in one.routes]


def is_for_another_use(treatment, strength):
    """Whether a strength is listed, but not for the usual route or phase: what is said of it is no swap."""
    listed = [one for one in treatment.stocks if units.same(strength, one.amount)]
    against = [one.avoid.where for one in listed if one.avoid and one.avoid.where]
    phases = treatment.phases or next((each.phases for each in treatment.indications.values()), frozenset())
    return any(usual_route(treatment.slug) in each.routes or phases & each.phases for each in against)


def strength_findings(checked):
    return [one for one in checked.findings if one.code in ("wrong_stock", "unlisted_strength")]


@pytest.mark.parametrize(("rules", "treatment"), those())
def test_a_strength_is_right_or_the_swap_is_named_with_its_dose(rules, treatment):
    for strength in of_its_kind(rules, treatment):
        right = any(units.same(strength, one.amount) for one in right_strengths(treatment))
        found = strength_findings(put(rules, treatment, strength))
        if is_for_another_use(treatment, strength):
            assert found, strength
            continue

        assert bool(found) is not right, strength
        for finding in found if treatment.unit != "mL" else ():  # by volume another strength is simply another fluid
            assert named_dose(finding.text) == pytest.approx(resulting_dose(treatment, strength), rel=0.006), strength


def named_dose(words: str) -> float:
    """The dose that the finding says the patient would get, as a number of the library's base units."""
    number, unit = SAID.search(words).groups()
    return in_library(Amount(float(number.replace(",", "")), unit)).to_base_units().magnitude


def resulting_dose(treatment, strength: Amount) -> float:
    """By the library: the dose, times this strength over the one that its volume was computed for.

    A vial that is too strong is mixed by the recipe, which dilutes it as it does the right one; so the ratio is that of
    the vials. What is not listed is taken for the strength that lies nearest.
    """
    hand = in_library(strength)
    if treatment.recipe is not None:
        vial, ready = (in_library(one.amount) for one in (treatment.recipe.stock, treatment.recipe.makes))
        ratio = hand / vial if hand > vial else hand / ready
    else:
        listed = [in_library(one.amount) for one in right_strengths(treatment)]
        ratio = min((hand / one for one in listed), key=lambda times: max(times, 1 / times).to("").magnitude)
    return (in_library(usual_dose(treatment)) * ratio).to_base_units().magnitude


@pytest.mark.parametrize(("rules", "treatment"), those(lambda treatment: treatment.recipe is not None))
def test_a_vial_stronger_than_that_of_the_recipe_never_gets_a_volume(rules, treatment):
    for strength in of_its_kind(rules, treatment):
        checked = put(rules, treatment, strength)
        stronger = in_library(strength) > in_library(treatment.recipe.stock.amount)

        assert (checked.give.volume is None) == stronger == (checked.verdict == "over_hard_limit"), strength


@pytest.mark.parametrize(
    ("rules", "treatment"), those(lambda each: each.form != "infusion" and len(stock.strengths(each)) > 1)
)
def test_beside_a_listed_strength_stands_what_each_other_would_be(rules, treatment):
    """The volume that is given, of every other strength of this treatment, as doses by the library."""
    for strength in of_its_kind(rules, treatment):
        checked = put(rules, treatment, strength)
        if strength_findings(checked) and not is_for_another_use(treatment, strength):
            assert checked.give.if_swapped == (), strength
            continue
        drawn = checked.give.volume.value * library().mL
        gives = in_library(checked.give.dose) / drawn
        others = [in_library(one.amount) for one in stock.strengths(treatment)]

        told = [amount(words.split(" would be ")[1].replace(",", "")) for words in checked.give.if_swapped]
        wanted = [drawn * one for one in others if abs((one / gives).to("").magnitude - 1) > 1e-9]
        assert [in_library(one).to_base_units().magnitude for one in told] == pytest.approx(
            [one.to_base_units().magnitude for one in wanted], rel=0.006
        ), strength
