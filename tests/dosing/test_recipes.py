"""The recipes of both rule sets: what they make, what each step says, and that each way conserves mass."""

import pint
import pytest

from dosing.ground import units
from dosing.mix import dilution
from dosing.rules.rule_set import Recipe, Step
from tests.dosing.bedside import CONSERVATIVE, RULES, told
from tests.dosing.dosing_values import ROWS, numbers
from tests.dosing.other_units import library

EPINEPHRINE = RULES.treatments["epinephrine-push-dose"]
PHENYLEPHRINE = RULES.treatments["phenylephrine-push-dose"]


@pytest.mark.parametrize("way", EPINEPHRINE.recipe.ways, ids=str)
def test_either_way_makes_10_mcg_per_ml(way):
    """PDP-001: 1 mL of 0.1 mg/mL and 9 mL of saline are 10 mL at 10 mcg per mL."""
    held = dilution.contents(EPINEPHRINE.recipe.ways[way])[-1]

    assert units.amount(held.volume, "mL").value == 10
    assert units.amount(held.drug, "mcg").value == 100
    assert units.amount(held.strength, "mcg/mL").value == numbers(ROWS["PDP-001"]["expected"])[1]


def test_ten_milligrams_into_a_bag_of_100_ml_make_99():
    """PDP-022: 99 exactly, called 100 mcg per mL."""
    held = dilution.contents(PHENYLEPHRINE.recipe.ways["through a 100 mL bag"])[1]

    assert units.amount(held.strength, "mcg/mL").value == pytest.approx(99.0099, abs=1e-4)
    assert units.amount(PHENYLEPHRINE.recipe.makes.exact, "mcg/mL").value == 100


RECIPES = [
    pytest.param(treatment, recipe, id=f"{rules.name}, {treatment.slug}, {recipe.makes.amount.value:g}")
    for rules in (RULES, CONSERVATIVE)
    for treatment in rules.treatments.values()
    for recipe in treatment.recipes
]


def by_the_library(recipe: Recipe, steps: tuple[Step, ...]) -> float:
    """The strength at the end by the published unit library with floats, in the unit of the label."""
    drug, volume = None, 0 * library().mL
    for step in steps:
        if step.action in ("label", "do"):
            continue
        moved = step.volume.value * library().mL
        if step.action == "add":
            volume += moved
            if step.strength is not None:
                drug = (drug or 0) + step.strength.value * library_unit(step.strength.unit) * moved
        else:
            rest = (volume - moved if step.action == "expel" else moved) / volume
            volume, drug = volume * rest, None if drug is None else drug * rest
    return (drug / volume).to(library_unit(recipe.makes.amount.unit)).magnitude


def library_unit(unit: str) -> pint.Unit:
    return library().parse_units(unit.replace("units", "drug_unit"))


@pytest.mark.parametrize(("treatment", "recipe"), RECIPES)
def test_every_way_of_every_recipe_makes_what_its_label_says(treatment, recipe):
    """Conservation of mass, by another program's arithmetic; labels may round by 1 % where the rules say so."""
    allowed = 0.01 if recipe.nominal else 1e-12
    for steps in recipe.ways.values():
        assert by_the_library(recipe, steps) == pytest.approx(recipe.makes.amount.value, rel=allowed)


@pytest.mark.parametrize(
    ("slug", "row", "makes"),
    [
        ("norepinephrine-infusion", "CON-011", [16]),
        ("epinephrine-infusion", "CON-013", [4, 10]),
        ("vasopressin-infusion", "CON-009", [0.1, 1]),
    ],
)
def test_the_mixes_are_the_published_ones(slug, row, makes):
    """CON-009, CON-011, CON-013: 50 units in 500 mL, 100 in 100; 4 mg in 250 mL; 1 mg in 250 and in 100 mL."""
    published = numbers(ROWS[row]["expected"])
    mixes = RULES.treatments[slug].mixes

    assert [mix.makes.amount.value for mix in mixes] == makes
    assert set(makes) <= set(published)


def test_each_step_says_what_the_syringe_holds():
    shown = dilution.steps_text(EPINEPHRINE, RULES)

    assert shown[1] == "Draw 9 mL of saline into an empty 10 mL syringe (holds 9 mL, no drug)"
    assert shown[2].endswith("(holds 10 mL, 100 mcg: 10 mcg per mL)")
    assert shown[5:8] == [
        "Take a full 10 mL saline syringe (holds 10 mL, no drug)",
        "Expel 1 mL of saline (holds 9 mL, no drug)",
        "Add 1 mL of EPINEPHrine 0.1 mg per mL through a three-way stopcock or with a needle"
        " (holds 10 mL, 100 mcg: 10 mcg per mL)",
    ]


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_a_prefilled_syringe_is_offered_before_anything_is_mixed(rules):
    first = dilution.steps_text(rules.treatments["epinephrine-push-dose"], RULES)[0]

    assert first == ("First, where stocked: a prefilled 10 mL syringe of 10 mcg per mL, nothing to mix; read its label")


def test_what_is_not_stocked_prefilled_is_not_offered():
    assert not any("prefilled" in line for line in dilution.steps_text(PHENYLEPHRINE, RULES))


def test_the_new_label_says_all_that_is_written_on_it():
    relabel = [line for line in dilution.steps_text(EPINEPHRINE, RULES) if "label:" in line]

    assert relabel == 2 * [
        "Mix, then relabel: EPINEPHrine, 10 mcg per mL, 100 mcg in 10 mL, time mixed,"
        " discard after 4 h or at handover, initials"
    ]


def test_a_bag_to_draw_from_is_labeled_so_and_the_syringe_drawn_from_it_too():
    """PDP-022: 99 exactly, called 100; both labels agree with the strength that they state."""
    shown = dilution.steps_text(PHENYLEPHRINE, RULES)

    assert shown[1].endswith("exactly 99, called 100 mcg per mL (holds 101 mL, 10 mg: 99 mcg per mL)")
    assert "the bag: phenylephrine, 100 mcg per mL, 10 mg in 100 mL, draw only, never hang, time mixed" in shown[2]
    assert shown[3] == "Draw 10 mL into an empty 10 mL syringe (holds 10 mL, 990 mcg: 99 mcg per mL)"
    assert "the syringe: phenylephrine, 100 mcg per mL, 1,000 mcg in 10 mL, time mixed" in shown[4]
    assert "never hang" not in shown[4]


@pytest.mark.parametrize(("treatment", "recipe"), RECIPES)
def test_every_vessel_is_labeled_with_what_agrees_with_itself(treatment, recipe):
    """Drug over volume, as printed, is the strength as printed."""
    for held in dilution.labeled(recipe):
        drug, volume = dilution.total_text(recipe, held).split(" in ")
        amount, unit = drug.replace(",", "").split()
        printed = float(amount) * library_unit(unit) / (float(volume.removesuffix(" mL")) * library().mL)
        assert printed.to(library_unit(recipe.makes.amount.unit)).magnitude == pytest.approx(recipe.makes.amount.value)


def test_half_milliliters_are_not_rounded_away():
    assert any(
        "holds 502.5 mL" in line for line in dilution.steps_text(RULES.treatments["vasopressin-infusion"], RULES)
    )


@pytest.mark.parametrize(
    ("slug", "flush"),
    [
        ("epinephrine-push-dose", "After each dose flush with 5-10 mL of saline; a small child with 2-5 mL."),
        ("phenylephrine-push-dose", "After each dose flush with 5-10 mL of saline."),
    ],
)
def test_the_flush_after_each_dose(slug, flush):
    """The volumes are our choice; phenylephrine push doses are not for children."""
    assert told(slug)["recipe"][-1] == flush


def test_the_unsafe_practices_are_named_beside_the_recipe():
    cautions = " ".join(told("epinephrine-push-dose")["cautions"])

    assert "published list of unsafe practices" in cautions
    assert "prefilled syringe as if it were a vial" in cautions
    assert "flush syringe without relabeling" in cautions


def test_the_recipe_of_the_guidance_has_both_ways():
    recipe = " ".join(told("epinephrine-push-dose")["recipe"])

    assert "Or, from a full 10 mL saline syringe" in recipe
    assert "three-way stopcock" in recipe


@pytest.mark.parametrize(("percent", "row"), [(10, "CON-004"), (25, "CON-005")], ids=["10 %", "25 %"])
def test_a_percentage_is_grams_in_100_ml(percent, row):
    strengths = {stock.name: stock.amount.value for stock in RULES.treatments["dextrose"].stocks}

    assert strengths[f"dextrose {percent} %"] == float(ROWS[row]["expected"])


def test_elemental_calcium_of_both_salts():
    """CON-002 for the chloride; of the gluconate the prescribing information says 9.3, which the list rounds to 9."""
    found = [RULES.treatments[name].elemental.value for name in ("calcium-chloride", "calcium-gluconate")]

    assert found == [27.2, 9.3]
    assert list(map(int, found)) == list(map(int, numbers(ROWS["CON-002"]["expected"])))
