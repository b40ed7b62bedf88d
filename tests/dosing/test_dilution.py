"""Preparing a push dose: what the syringe holds after each step, and which strength is in the hand."""

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.mix import dilution
from dosing.rules.rule_set import Step
from tests.dosing.bedside import RULES
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


def test_the_ten_fold_slip_makes_100():
    """PDP-020: 1 mL of 1 mg/mL and 9 mL of saline."""
    assert made(add(9), add(1, Amount(1, "mg/mL"))) == numbers(ROWS["PDP-020"]["expected"])[0]


def test_a_full_syringe_that_was_not_drained_makes_9_09():
    """PDP-021: 1 mL of 0.1 mg/mL on top of a full 10 mL."""
    assert made(add(10), add(1, Amount(0.1, "mg/mL"))) == pytest.approx(
        numbers(ROWS["PDP-021"]["expected"])[0], abs=0.01
    )


@pytest.mark.parametrize("row", rows("PDP-018"))
def test_published_volume_of_a_push(row):
    checked = put("epinephrine-push-dose", 15, "mcg")

    assert checked.give.volume.value == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def draw(milliliters: float) -> Step:
    return Step(action="draw", text="draw", volume=Amount(milliliters, "mL"))


@pytest.mark.parametrize("steps", [[add(1), expel(2)], [add(1), expel(1)], [add(1), draw(1.1)], [expel(1)]], ids=repr)
def test_more_cannot_be_taken_out_than_is_there(steps):
    with pytest.raises(ValueError, match="more is taken out"):
        dilution.contents(steps)


@pytest.mark.parametrize(
    ("steps", "words"),
    [
        ([], "^a recipe needs steps$"),
        ([Step(action="label", text="label")], "^the first step must fill the syringe or the bag$"),
        ([Step(action="add", text="x")], "no volume"),
    ],
    ids=["none", "label first", "no volume"],
)
def test_steps_that_prepare_nothing_are_refused(steps, words):
    with pytest.raises(ValueError, match=words):
        dilution.contents(steps)


def test_a_label_needs_a_drug():
    saline = dilution.contents([add(10)])[0]

    with pytest.raises(ValueError, match=r"^a label needs a drug$"):
        dilution.total_text(EPINEPHRINE.recipe, saline)


VOLUMES = st.integers(1, 1000).map(lambda tenths: tenths / 10)


@given(
    first=VOLUMES,
    moves=st.lists(st.tuples(st.sampled_from(("saline", "drug", "expel")), VOLUMES), max_size=8),
    strength=st.integers(1, 10_000),
)
def test_mixing_conserves_the_drug(first, moves, strength):
    """What was put in is what is there and what was thrown away, by hand-kept fractions, whatever the order."""
    stock, inside, gone, volume = Amount(strength, "mcg/mL"), Fraction(0), Fraction(0), Fraction(str(first))
    steps, put = [add(first)], Fraction(0)
    for what, size in moves:
        exact = Fraction(str(size))
        if what == "expel":
            if exact >= volume:
                continue
            gone, inside, volume = gone + inside * exact / volume, inside * (1 - exact / volume), volume - exact
            steps.append(expel(size))
        else:
            volume += exact
            fresh = exact * strength if what == "drug" else 0
            inside, put = inside + fresh, put + fresh
            steps.append(add(size, stock if what == "drug" else None))
    held = dilution.contents(steps)[-1]

    assert units.number(held.volume, "mL") == volume
    assert (0 if held.drug is None else units.number(held.drug, "mcg")) == inside == put - gone


@given(saline=VOLUMES, drug=VOLUMES, out=VOLUMES)
def test_what_is_drawn_from_a_bag_has_the_strength_of_the_bag(saline, drug, out):
    assume(out < saline + drug)
    bag, syringe = dilution.contents([add(saline), add(drug, Amount(1, "mg/mL")), draw(out)])[1:]

    assert syringe.strength == bag.strength
    assert syringe.volume == units.quantity(Amount(out, "mL"))
