"""A strength in the hand, whole: what it is taken for, what then goes in, and where else it belongs.

By hand from the strengths that the demonstration rules list; a bag to which 4 mL were added without making room holds
4 mg in 254 mL, 15.7 mcg per mL (arithmetic). Ten times the strongest vial is another drug's: our choice.
"""

from __future__ import annotations

import pytest

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.units import Quantity
from dosing.mix import stock
from dosing.mix.stock import InHand
from tests.dosing.bedside import RULES

KETAMINE, NOREPINEPHRINE, PHENYLEPHRINE = "ketamine", "norepinephrine-infusion", "phenylephrine-push-dose"


def exact(value: float | None, unit: str) -> Quantity | None:
    return None if value is None else units.quantity(Amount(value, unit))


@pytest.mark.parametrize(
    ("slug", "value", "unit", "kind", "goes_in", "results", "usual"),
    [
        (KETAMINE, 50, "mg/mL", "stock", 50, 50, 50),
        (KETAMINE, 20, "mg/mL", "unlisted", 20, 20, 10),
        (KETAMINE, 30, "mg/mL", "unlisted", 30, 30, 50),
        (KETAMINE, 100, "mg/mL", "unlisted", 100, 100, 50),
        (KETAMINE, 499, "mg/mL", "unlisted", 499, 499, 50),
        (KETAMINE, 500, "mg/mL", "stronger", None, 500, 50),
        (NOREPINEPHRINE, 32, "mcg/mL", "stock", 32, 32, 32),
        (NOREPINEPHRINE, 15.7, "mcg/mL", "undrained", 15.7, 15.7, 16),
        (NOREPINEPHRINE, 640, "mcg/mL", "unlisted", 640, 640, 64),
        (PHENYLEPHRINE, 99, "mcg/mL", "prepared", 100, 100, 100),
        (PHENYLEPHRINE, 10_000, "mcg/mL", "stock", 100, 100, 100),
        (PHENYLEPHRINE, 100_000, "mcg/mL", "stronger", None, 1000, 100),
        (PHENYLEPHRINE, 5, "mcg/mL", "unlisted", 5, 5, 100),
        ("epinephrine-push-dose", 10.05, "mcg/mL", "unlisted", 10.05, 10.05, 10),
        ("crystalloid-bolus", 1, "mg/mL", "stock", 1, 1, 1),
    ],
)
def test_a_strength_in_the_hand_is_one_of_those_listed_or_taken_for_the_nearest(
    slug: str, value: float, unit: str, kind: str, goes_in: float | None, results: float, usual: float
) -> None:
    found = stock.recognize(RULES.treatments[slug], units.quantity(Amount(value, unit)))

    assert found == InHand(kind, exact(goes_in, unit), exact(results, unit), exact(usual, unit))


@pytest.mark.parametrize(
    ("slug", "value", "unit", "places"),
    [
        ("epinephrine-push-dose", 0.1, "mg/mL", ["the undiluted vial", "stocked for EPINEPHrine in cardiac arrest"]),
        ("epinephrine-push-dose", 10, "mcg/mL", ["the bag for EPINEPHrine infusion"]),
        ("epinephrine-push-dose", 10, "mg/mL", []),
        (
            "epinephrine-push-dose",
            1,
            "mg/mL",
            ["stocked for EPINEPHrine IM (anaphylaxis)", "stocked for EPINEPHrine infusion"],
        ),
        (
            "epinephrine-im",
            0.1,
            "mg/mL",
            ["stocked for EPINEPHrine push dose", "stocked for EPINEPHrine in cardiac arrest"],
        ),
        (
            "epinephrine-im",
            10,
            "mcg/mL",
            ["the syringe for EPINEPHrine push dose", "the bag for EPINEPHrine infusion"],
        ),
        ("epinephrine-infusion", 4, "mcg/mL", []),
        ("epinephrine-infusion", 10, "mcg/mL", ["the syringe for EPINEPHrine push dose"]),
        ("epinephrine-infusion", 1, "mg/mL", ["the undiluted vial", "stocked for EPINEPHrine IM (anaphylaxis)"]),
        ("phenylephrine-infusion", 10, "mg/mL", ["the undiluted vial", "stocked for phenylephrine push dose"]),
        ("phenylephrine-infusion", 0.1, "mg/mL", ["the syringe for phenylephrine push dose"]),
        ("amiodarone-infusion", 50, "mg/mL", ["the undiluted vial", "stocked for amiodarone"]),  # one of its two
    ],
)
def test_where_else_the_same_drug_has_that_strength(slug: str, value: float, unit: str, places: list[str]) -> None:
    assert stock.elsewhere(RULES.treatments[slug], RULES, units.quantity(Amount(value, unit))) == places
