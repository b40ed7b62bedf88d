"""A simulated crew's syringes and bags: mixed before the first dose, again when used up, strengths of the rules."""

from __future__ import annotations

import pytest

from consult.simulation import kit
from consult.simulation.scenario import shipped
from dosing.ground.facts import Amount
from dosing.load import reader

RULES = reader.load_shipped("demonstration").treatments
PUSH, DRIP, BOLUS = "epinephrine-push-dose", "norepinephrine-infusion", "crystalloid-bolus"


@pytest.fixture
def body():
    return shipped()[0].make_body()


def test_a_syringe_lasts_as_many_doses_as_it_holds(body):
    """100 mcg in 10 mL: five pushes of 20 mcg, then another syringe (reference/rules, push dose)."""
    crew = kit.Kit()
    mixed = [crew.mixed_for(PUSH, Amount(20, "mcg"), body) is not None for _ in range(7)]
    assert mixed == [True, False, False, False, False, True, False]


def test_a_liter_is_two_halves(body):
    crew = kit.Kit()
    assert [crew.hung_for(BOLUS, 500) for _ in range(3)] == [1000, None, 1000]


def test_each_infusion_hangs_its_own_bag():
    crew = kit.Kit()
    assert [crew.hung_for(DRIP, 0), crew.hung_for(DRIP, 0)] == [250, 250]


def test_what_comes_as_it_is_needs_nothing(body):
    crew = kit.Kit()
    assert crew.mixed_for("atropine", Amount(1, "mg"), body) is None
    assert crew.hung_for("atropine", 0) is None


def test_a_crew_mixes_what_the_rules_know():
    for treatment, made in kit.load().items():
        recipe = RULES[treatment].recipe
        mixed = None if recipe is None else (recipe.makes.amount.value, recipe.makes.amount.unit)
        assert made.get("strength", mixed) == mixed or tuple(made["strength"]) == mixed, treatment
