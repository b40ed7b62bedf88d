"""What a rule set is checked for once it has been read: goals, names, recipes; each check asked by itself.

The rules are the project's own; that a recipe must end at the strength on its label is conservation of mass.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.load.checks import NEEDED, found_in, recipe_faults
from dosing.load.faults import Fault, RuleSetFaults
from dosing.rules.parts import Apart, Caution, Shared, Source, Step, Strength, Where
from dosing.rules.rule_set import GoalRule, OtherNames, Recipe
from tests.copying import replace
from tests.dosing.bedside import RULES

INVENTED = Source("invented", "an invented source", "our choice")
NOTHING: Any = replace(RULES, treatments={}, tall_man={}, names=())
FLOORS = {"map": 65.0, "sbp": 90.0}


def goal(measure: str = "map", **more: Any) -> GoalRule:
    known = {"name": "a goal", "floor": FLOORS[measure], "because": "", "source": INVENTED, "adult": True}
    return GoalRule(measure=measure, **known | more)


def of_goals(*goals: GoalRule) -> list[tuple[str, str]]:
    return list(found_in(replace(NOTHING, goals=goals)))


@pytest.mark.parametrize(("drug", "fault"), [("atropine", False), ("atropin", True)])
def test_another_name_is_of_a_drug_that_is_there(drug: str, fault: bool) -> None:
    names = (OtherNames(drug=drug, names=("Atreza",), source=INVENTED),)
    found = list(found_in(replace(RULES, names=names)))

    assert found == ([("names.0.drug", "is 'atropin', which is the drug of no treatment here")] if fault else [])


@pytest.mark.parametrize(("ceiling", "fault"), [(None, False), (66, False), (65.5, False), (65, True), (64, True)])
def test_a_ceiling_stands_above_its_floor(ceiling: float | None, fault: bool) -> None:
    found = of_goals(goal("sbp"), goal(ceiling=ceiling))

    assert found == ([("goals.1.ceiling", "is not above the floor")] if fault else [])


@pytest.mark.parametrize(
    ("more", "covers"),
    [
        ({}, True),
        ({"adult": None}, True),
        ({"adult": False}, False),
        ({"impressions": frozenset({"septic"})}, False),
        ({"injuries": frozenset({"head"})}, False),
        ({"without_injuries": frozenset({"head"})}, False),
        ({"bleeding_causes": frozenset({"gut"})}, False),
        ({"from_years": 18.0}, False),
        ({"under_years": 70.0}, False),
        ({"from_years": 18.0, "under_years": 70.0}, False),
        ({"from_weeks": 20.0}, False),
    ],
    ids=str,
)
def test_each_measure_has_a_goal_for_every_adult(more: dict[str, Any], covers: bool) -> None:
    missing = [("goals", "none of map is for every adult")]

    assert of_goals(goal(**more), goal("sbp")) == ([] if covers else missing)
    assert of_goals(goal("sbp")) == missing
    assert of_goals(goal(), goal("sbp", adult=False)) == [("goals", "none of sbp is for every adult")]
    assert of_goals(goal(**more), goal(), goal("sbp")) == []


def test_the_letters_of_a_name_may_change_only_in_size() -> None:
    fine = replace(NOTHING, tall_man={"fentanyl": "fentaNYL", "ketamine": "KETamine"})
    wrong = replace(NOTHING, tall_man={"fentanyl": "fentaNIL", "ketamine": "KETamine"})

    assert list(found_in(fine)) == []
    told = "is 'fentaNIL': only the size of the letters may differ"
    assert list(found_in(wrong)) == [("tall_man.fentanyl", told)]


def test_a_count_is_shared_only_with_what_is_there() -> None:
    calcium = replace(RULES.treatments["calcium-chloride"], apart=())
    shared = Shared(treatments=frozenset({"calcium-gluconate", "atropine"}), source=INVENTED)
    alone = replace(NOTHING, treatments={"calcium-chloride": replace(calcium, shared=shared)})
    both = replace(alone, treatments=alone.treatments | {"atropine": RULES.treatments["atropine"]})
    entry = "treatments.calcium-chloride.shared.treatments"

    lacks = [(entry, f"holds '{slug}', which is not a treatment here") for slug in ("atropine", "calcium-gluconate")]
    assert list(found_in(alone)) == lacks
    assert list(found_in(both)) == lacks[1:]
    assert list(found_in(alone, unread={"calcium-chloride"})) == []
    unshared = replace(NOTHING, treatments={"calcium-chloride": replace(calcium, shared=None)})
    assert list(found_in(unshared)) == []


@pytest.mark.parametrize("name", NEEDED)
def test_each_of_these_measurements_has_a_danger_for_every_adult(name: str) -> None:
    others = tuple(each for each in RULES.watch.vital_signs if each.measurement != name)
    lacking = replace(NOTHING, watch=replace(RULES.watch, vital_signs=others))

    assert list(found_in(lacking)) == [("watch.vital_signs", f"none of {name} says what is a danger for every adult")]


def test_what_is_for_an_indication_or_a_route_that_the_treatment_has_not_is_for_nobody() -> None:
    naloxone = RULES.treatments["naloxone"]
    sprays = tuple(replace(each, routes=frozenset({"IN", "PO"})) for each in naloxone.stocks if each.routes)
    warned = Caution(text="careful", source=INVENTED, where=Where(indications=frozenset({"pain"})))
    changed = replace(naloxone, stocks=sprays, cautions=(warned,))

    assert list(found_in(replace(NOTHING, treatments={"naloxone": changed}))) == [
        (
            "treatments.naloxone.cautions.0.where.indications",
            "holds 'pain', which is none of the treatment's indications",
        ),
        ("treatments.naloxone.stocks.0.routes", "holds 'PO', which is none of the treatment's routes"),
    ]


def strength(value: float, unit: str = "mcg/mL", name: str = "") -> Strength:
    return Strength(amount=Amount(value, unit), source=INVENTED, exact=units.quantity(Amount(value, unit)), name=name)


def ml(value: float) -> Amount:
    return Amount(value, "mL")


SALINE = Step(action="add", text="Draw saline", volume=ml(9))
DRUG = Step(action="add", text="Draw the drug", volume=ml(1), strength=Amount(0.1, "mg/mL"))
LABEL = Step(action="label", text="Relabel")
GOOD = (SALINE, DRUG, LABEL)


def recipe(*ways: tuple[Step, ...], **more: Any) -> Recipe:
    named = {f"way {number}": steps for number, steps in enumerate(ways, 1)}
    known = {"stock": strength(0.1, "mg/mL"), "makes": strength(10), "source": INVENTED}
    return Recipe(ways=named, **known | more)


MADE_990 = (replace(SALINE, volume=ml(9.1)), DRUG, LABEL)  # 100 mcg in 10.1 mL are 9.901 mcg/mL, 0.99 % less
MADE_980 = (replace(SALINE, volume=ml(9.2)), DRUG, LABEL)  # in 10.2 mL 9.804 mcg/mL, 1.96 % less
MADE_11 = (replace(SALINE, volume=ml(8)), DRUG, LABEL)  # in 9 mL 11.11 mcg/mL
UNLABELED, EARLY = (SALINE, DRUG), (SALINE, LABEL, DRUG)
TOO_MUCH_SAID = "way 'way 1': more is taken out than is there: Expel"
TOO_MUCH = (SALINE, Step(action="expel", text="Expel", volume=ml(10)), DRUG, LABEL)


@pytest.mark.parametrize(
    ("made", "found"),
    [
        (recipe(GOOD), []),
        (recipe(GOOD, GOOD), []),
        (recipe(MADE_990), ["way 'way 1' makes 9.9 mcg per mL, not 10 mcg per mL"]),
        (recipe(MADE_990, nominal=True), []),
        (recipe(MADE_980, nominal=True), ["way 'way 1' makes 9.8 mcg per mL, not 10 mcg per mL"]),
        (recipe(GOOD, MADE_11), ["way 'way 2' makes 11.1 mcg per mL, not 10 mcg per mL"]),
        (recipe(MADE_11, nominal=True), ["way 'way 1' makes 11.1 mcg per mL, not 10 mcg per mL"]),
        (
            recipe((SALINE, LABEL)),
            ["way 'way 1' puts no drug into the syringe", "way 'way 1' labels the syringe before the drug is in it"],
        ),
        (recipe(UNLABELED), ["way 'way 1' does not label the syringe"]),
        (recipe(EARLY), ["way 'way 1' labels the syringe before the drug is in it"]),
        (recipe(GOOD, prefilled=strength(10)), []),
        (
            recipe(GOOD, prefilled=strength(0.1, "mg/mL")),
            ["the prefilled syringe holds 100 mcg per mL, not what the recipe makes"],
        ),
        (
            recipe(TOO_MUCH, MADE_11),
            [TOO_MUCH_SAID, "way 'way 2' makes 11.1 mcg per mL, not 10 mcg per mL"],
        ),
        (recipe(GOOD, makes=strength(10, "units/mL")), ["way 'way 1' makes 10 mcg per mL, not 10 units per mL"]),
    ],
)
def test_a_recipe_ends_at_the_strength_on_its_label(made: Recipe, found: list[str]) -> None:
    assert list(recipe_faults(made)) == found


def test_a_mix_makes_one_of_the_listed_strengths() -> None:
    drip = RULES.treatments["norepinephrine-infusion"]
    only = replace(drip, concentrations=(strength(32), strength(64)))
    listed = replace(drip, concentrations=(strength(32), strength(16)))

    def of(treatment: Any) -> list[tuple[str, str]]:
        return list(found_in(replace(NOTHING, treatments={treatment.slug: treatment})))

    entry, told = (
        "treatments.norepinephrine-infusion.mixes.0",
        "makes 16 mcg per mL, which is not among the concentrations",
    )
    assert of(only) == [(entry, told)]
    assert of(listed) == []


def test_all_faults_are_told_one_to_a_line() -> None:
    refused = RuleSetFaults([Fault("own.toml", "goals", 3, "is odd"), Fault("own.toml", "name", 1, "is long")])

    assert str(refused) == "own.toml, line 3, goals: is odd\nown.toml, line 1, name: is long"
    assert [fault.line for fault in refused.faults] == [3, 1]


@pytest.mark.parametrize(
    ("drug", "fault"), [("esmolol", False), ("beta-blocker", False), ("esmolol-infusion", True), ("esmolool", True)]
)
def test_what_must_lie_apart_is_a_drug_or_a_class_of_drugs(drug: str, fault: bool) -> None:
    apart = (Apart(drugs=frozenset({drug}), minutes=60, text="", source=INVENTED),)
    both = {slug: RULES.treatments[slug] for slug in ("esmolol", "atropine")}
    with_it = replace(NOTHING, treatments=both | {"atropine": replace(both["atropine"], apart=apart)})

    words = f"holds {drug!r}, which is neither a drug nor a class of drugs here"
    assert (("treatments.atropine.apart", words) in list(found_in(with_it))) is fault
