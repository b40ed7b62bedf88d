"""How many boluses of fluid a card says are left: whole ones, by their number and by the total, whichever is less.

30 mL/kg up to 1,000 mL, three of them (reference rules); of a child 60 mL/kg in all (Surviving Sepsis Campaign for
children, 2020). The conservative set: 30 mL/kg in all, a child's bolus 20 mL/kg (our choice). The rest is arithmetic.
"""

from __future__ import annotations

import pytest

from consult.case.given import fluids
from dosing.ground.facts import Facts, Patient
from dosing.rules.rule_set import RuleSet
from tests.dosing.bedside import CONSERVATIVE, RULES, adult, child, facts, given


def after(patient: Patient, *volumes: float) -> Facts:
    """The patient after so many mL, each volume a bolus."""
    boluses = [given("crystalloid-bolus", 60 - minute, ml, "mL") for minute, ml in enumerate(volumes)]
    return facts(patient, doses=tuple(boluses))


@pytest.mark.parametrize(
    ("patient", "volumes", "rules", "left"),
    [
        (adult(80), (), RULES, 3),
        (adult(80), (1000, 1000), RULES, 1),
        (adult(80), (250, 250, 250, 250), RULES, 2),
        (adult(80), (500,), RULES, 2),
        (adult(80), (1000, 1000, 1000, 250), RULES, 0),
        (child(5, 18), (), RULES, 2),
        (child(5, 18), (540,), RULES, 1),
        (child(5, 18), (540, 180), RULES, 0),
        (child(5, 18), (540, 540, 540), RULES, 0),
        (adult(50), (), CONSERVATIVE, 1),
        (adult(50), (500,), CONSERVATIVE, 1),
        (adult(50), (750,), CONSERVATIVE, 0),
        (child(5, 18), (), CONSERVATIVE, 1),
    ],
    ids=[
        "three of an adult",
        "one after two",
        "small ones count by their volume",
        "a half leaves whole ones alone",
        "none after more than three",
        "a child's total holds two of 540 mL",
        "one of those after one",
        "no whole one after one and a third",
        "none after three",
        "1,500 mL in all hold one of 1,000",
        "and one more after 500",
        "none after 750",
        "540 mL in all hold one of 360",
    ],
)
def test_the_number_and_the_total_both_bound_what_is_left(patient, volumes, rules: RuleSet, left: int):
    known = fluids(after(patient, *volumes), rules)

    assert known.boluses_left == left
    assert (known.total_ml, known.boluses) == (sum(volumes), len(volumes))
