"""What is wrong with a recipe is told when the rule set is read, by entry and line."""

import pytest

from dosing.load import reader
from dosing.load.faults import RuleSetFaults
from dosing.load.reader import SHIPPED

DEMONSTRATION = (SHIPPED / "demonstration.toml").read_text(encoding="utf-8")
PUSH = "treatments.epinephrine-push-dose.recipe"
BAG = "treatments.phenylephrine-push-dose.recipe"
MIX = "treatments.norepinephrine-infusion.mixes.0"


def faults(old: str, new: str) -> list[str]:
    """What is told of the demonstration rules with one entry changed."""
    assert old in DEMONSTRATION
    with pytest.raises(RuleSetFaults) as refused:
        reader.loads(DEMONSTRATION.replace(old, new, 1), "draft.toml")
    assert all(fault.line for fault in refused.value.faults)
    return [f"{fault.entry}: {fault.text}" for fault in refused.value.faults]


@pytest.mark.parametrize(
    ("old", "new", "entry", "words"),
    [
        pytest.param(
            'volume = "4 mL"\ntext = "Draw 4 mL out',
            'volume = "3 mL"\ntext = "Draw 4 mL out',
            MIX,
            "makes 15.9 mcg per mL, not 16 mcg per mL",
            id="too little drawn out of the bag",
        ),
        pytest.param(
            'makes = { amount = "16 mcg/mL", source',
            'makes = { amount = "17 mcg/mL", source',
            MIX,
            "makes 17 mcg per mL, which is not among the concentrations",
            id="a bag that no order could name",
        ),
        pytest.param(
            'amount = "10 mg/mL", name = "1 mL vial of 10 mg"',
            'amount = "100 mg/mL", name = "1 mL vial of 10 mg"',
            BAG,
            "makes 990 mcg per mL, not 100 mcg per mL",
            id="a vial ten times as strong, although the strength is nominal",
        ),
        pytest.param(
            'volume = "10 mL"\ntext = "Draw 10 mL into',
            'volume = "101 mL"\ntext = "Draw 10 mL into',
            BAG,
            "more is taken out than is there: Draw 10 mL into an empty 10 mL syringe",
            id="more drawn than the bag holds",
        ),
        pytest.param(
            'action = "label"\ntext = "Mix, then label the bag: phenylephrine"',
            'action = "do"\ntext = "Mix, then label the bag: phenylephrine"',
            BAG,
            "does not label the bag",
            id="a bag without a label",
        ),
        pytest.param(
            'action = "label"\ntext = "Label the syringe: phenylephrine"',
            'action = "do"\ntext = "Label the syringe: phenylephrine"',
            BAG,
            "does not label the syringe",
            id="a syringe without a label",
        ),
        pytest.param(
            'action = "add"\nvolume = "9 mL"\ntext = "Draw 9 mL',
            'action = "label"\ntext = "Draw 9 mL',
            PUSH,
            "the first step must fill the syringe or the bag",
            id="a label on nothing",
        ),
        pytest.param(
            'prefilled = { amount = "10 mcg/mL"',
            'prefilled = { amount = "0.1 mg/mL"',
            PUSH,
            "the prefilled syringe holds 100 mcg per mL, not what the recipe makes",
            id="the vial offered as the prefilled syringe",
        ),
        pytest.param(
            'action = "draw"', 'action = "pour"', BAG, "is 'pour', not one of add, do, draw, expel, label", id="action"
        ),
        pytest.param('vessel = "bag"', 'vessel = "cup"', BAG, "is 'cup', not one of bag, syringe", id="vessel"),
    ],
)
def test_a_recipe_that_is_wrong_is_refused(old, new, entry, words):
    assert any(told.startswith(entry) and words in told for told in faults(old, new))


def test_a_label_before_the_drug_is_refused():
    """A syringe of saline must not say that it holds the drug: the steps of label and drug change places."""
    way = '[[treatments.epinephrine-push-dose.recipe.ways."from an empty syringe"]]\n'
    start = DEMONSTRATION.index(way + 'action = "add"\ndrug = true')
    end = DEMONSTRATION.index("[[", DEMONSTRATION.index('action = "label"', start))
    drug, label = (way + part for part in DEMONSTRATION[start:end].split(way)[1:])

    told = faults(DEMONSTRATION[start:end], label + drug)

    assert any("labels the syringe before the drug is in it" in each for each in told)


def test_every_fault_of_a_recipe_is_told_at_once():
    told = faults('makes = { amount = "16 mcg/mL", source', 'makes = { amount = "17 mcg/mL", source')

    assert len([each for each in told if each.startswith(MIX)]) == 2
