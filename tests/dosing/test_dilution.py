"""Preparing a push dose: what the syringe holds after each step, and which strength is in the hand."""

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from dosing import dilution, units
from dosing.facts import Amount
from dosing.rule_set import Step
from tests.dosing.bedside import RULES, codes, told
from tests.dosing.bedside import check as put
from tests.dosing.dosing_values import ROWS, numbers, rows

EPINEPHRINE = RULES.treatments["epinephrine-push-dose"]
PHENYLEPHRINE = RULES.treatments["phenylephrine-push-dose"]


def add(milliliters: float, strength: Amount | None = None) -> Step:
    return Step(action="add", text="add", volume=Amount(milliliters, "mL"), strength=strength)


def expel(milliliters: float) -> Step:
    return Step(action="expel", text="expel", volume=Amount(milliliters, "mL"))


def made(*steps: Step) -> float:
    """The strength at the end, in mcg per mL."""
    strength = dilution.contents(steps)[-1].strength
    assert strength is not None
    return float(units.number(strength, "mcg/mL"))


@pytest.mark.parametrize("way", EPINEPHRINE.recipe.ways, ids=str)
def test_either_way_makes_10_mcg_per_ml(way):
    """PDP-001: 1 mL of 0.1 mg/mL and 9 mL of saline are 10 mL at 10 mcg per mL."""
    held = dilution.contents(EPINEPHRINE.recipe.ways[way])[-1]

    assert units.amount(held.volume, "mL").value == 10
    assert units.amount(held.drug, "mcg").value == 100
    assert units.amount(held.strength, "mcg/mL").value == numbers(ROWS["PDP-001"]["expected"])[1]


def test_the_ten_fold_slip_makes_100():
    """PDP-020: 1 mL of 1 mg/mL and 9 mL of saline."""
    assert made(add(9), add(1, Amount(1, "mg/mL"))) == numbers(ROWS["PDP-020"]["expected"])[0]


def test_a_full_syringe_that_was_not_drained_makes_9_09():
    """PDP-021: 1 mL of 0.1 mg/mL on top of a full 10 mL."""
    assert made(add(10), add(1, Amount(0.1, "mg/mL"))) == pytest.approx(
        numbers(ROWS["PDP-021"]["expected"])[0], abs=0.01
    )


def test_ten_milligrams_into_a_bag_of_100_ml_make_99():
    """PDP-022: 99 exactly, called 100 mcg per mL."""
    held = dilution.contents(PHENYLEPHRINE.recipe.ways["through a 100 mL bag"])[-1]

    assert units.amount(held.strength, "mcg/mL").value == pytest.approx(99.0099, abs=1e-4)
    assert units.amount(PHENYLEPHRINE.recipe.makes.exact, "mcg/mL").value == 100


def test_each_step_says_what_the_syringe_holds():
    shown = dilution.steps_text(EPINEPHRINE.recipe)

    assert shown[0] == "Draw 9 mL of saline into an empty 10 mL syringe (holds 9 mL, no drug)"
    assert shown[1].endswith("(holds 10 mL, 100 mcg: 10 mcg per mL)")
    assert "relabel" in shown[2]


def test_the_recipe_of_the_guidance_has_both_ways_and_the_flush():
    recipe = " ".join(told("epinephrine-push-dose")["recipe"])

    assert "Or, from a full 10 mL saline syringe" in recipe
    assert "three-way stopcock" in recipe
    assert "flush" in recipe


@pytest.mark.parametrize(
    ("stock", "kind", "mcg_per_ml"),
    [
        (Amount(0.1, "mg/mL"), "stock", 10),
        (Amount(100, "mcg/mL"), "stock", 10),
        (Amount(10, "mcg/mL"), "prepared", 10),
        (Amount(1, "mg/mL"), "stronger", None),
        (Amount(0.5, "mg/mL"), "stronger", None),
        (Amount(9.09, "mcg/mL"), "undrained", 9.0909),
        (Amount(9.1, "mcg/mL"), "undrained", 9.0909),
        (Amount(20, "mcg/mL"), "unlisted", 20),
        (Amount(1, "mcg/mL"), "unlisted", 1),
    ],
    ids=lambda value: f"{value.value} {value.unit}" if isinstance(value, Amount) else "",
)
def test_what_is_in_the_hand_is_recognised(stock, kind, mcg_per_ml):
    hand = dilution.recognise(EPINEPHRINE, units.quantity(stock))

    assert hand.kind == kind
    strength = None if hand.strength is None else units.amount(hand.strength, "mcg/mL").value
    assert strength == (None if mcg_per_ml is None else pytest.approx(mcg_per_ml, abs=1e-4))


@pytest.mark.parametrize(
    "stock", [Amount(10, "mg/mL"), Amount(100, "mcg/mL"), Amount(99, "mcg/mL")], ids=lambda a: a.unit
)
def test_phenylephrine_from_the_vial_or_from_the_bag(stock):
    hand = dilution.recognise(PHENYLEPHRINE, units.quantity(stock))

    assert units.amount(hand.strength, "mcg/mL").value == 100


def test_the_wrong_vial_is_over_the_hard_limit_and_gives_no_volume():
    checked = put("epinephrine-push-dose", 10, "mcg", stock=Amount(1, "mg/mL"))

    assert "wrong_stock" in codes(checked)
    assert checked.verdict == "over_hard_limit"
    assert checked.give.volume is None
    text = next(finding.text for finding in checked.findings if finding.code == "wrong_stock")
    assert "100 mcg per mL" in text


def test_an_undrained_syringe_is_told_and_its_volume_follows():
    checked = put("epinephrine-push-dose", 10, "mcg", stock=Amount(9.09, "mcg/mL"))

    assert "unlisted_strength" in codes(checked)
    assert checked.give.volume.value == pytest.approx(1.1)


@pytest.mark.parametrize("row", rows("PDP-018"))
def test_published_volume_of_a_push(row):
    checked = put("epinephrine-push-dose", 15, "mcg")

    assert checked.give.volume.value == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_the_same_volume_of_the_other_drug_is_ten_times_the_micrograms():
    """PDP-028."""
    two = Amount(2, "mL")
    held = [
        dilution.amount_in_hand(treatment, treatment.recipe.makes.amount, two).value
        for treatment in (PHENYLEPHRINE, EPINEPHRINE)
    ]

    assert held == numbers(ROWS["PDP-028"]["expected"])


@pytest.mark.parametrize(
    ("strength", "milliliters", "same"),
    [(Amount(0.01, "mg/mL"), 3, True), (Amount(10, "mcg/mL"), 3, True), (Amount(100, "mcg/mL"), 3, False)],
    ids=["0.01 mg/mL", "10 mcg/mL", "100 mcg/mL"],
)
def test_what_is_in_the_hand_against_what_was_ordered(strength, milliliters, same):
    held = dilution.amount_in_hand(EPINEPHRINE, strength, Amount(milliliters, "mL"))

    assert units.same(held, Amount(30, "mcg")) is same


def test_a_strength_of_another_kind_is_refused():
    with pytest.raises(units.WrongUnit):
        dilution.amount_in_hand(EPINEPHRINE, Amount(1, "units/mL"), Amount(1, "mL"))


def test_more_cannot_be_expelled_than_is_there():
    with pytest.raises(ValueError, match="more is expelled"):
        dilution.contents([add(1), expel(2)])


@given(
    saline=st.integers(1, 100),
    drug=st.integers(1, 50),
    strength=st.integers(1, 10_000),
    out=st.fractions(0, Fraction(9, 10)),
)
def test_mixing_conserves_the_drug(saline, drug, strength, out):
    """What was put in is what is there, and what is expelled takes its share along."""
    whole = saline + drug
    expelled = float(round(out * whole, 2))
    assume(0 < expelled < whole)
    stock = Amount(strength, "mcg/mL")
    held = dilution.contents([add(saline), add(drug, stock), expel(expelled)])

    assert units.number(held[1].drug, "mcg") == drug * strength
    assert held[2].strength == held[1].strength
    gone = held[1].drug - held[2].drug
    assert units.number(gone, "mcg") == Fraction(drug * strength, whole) * Fraction(str(expelled))


@pytest.mark.parametrize(("percent", "row"), [(10, "CON-004"), (25, "CON-005")], ids=["10 %", "25 %"])
def test_a_percentage_is_grams_in_100_ml(percent, row):
    strengths = {stock.name: stock.amount.value for stock in RULES.treatments["dextrose"].stocks}

    assert strengths[f"dextrose {percent} %"] == float(ROWS[row]["expected"])


def test_elemental_calcium_of_both_salts():
    """CON-002."""
    found = [RULES.treatments[name].elemental.value for name in ("calcium-chloride", "calcium-gluconate")]

    assert found == numbers(ROWS["CON-002"]["expected"])
