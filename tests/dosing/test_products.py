"""Blood by its product: what a bag is in mL, and how many bags open the next dose of calcium.

Red cells about 300 mL, whole blood 500 mL: the circular of the blood services; plasma 250 mL: a blood center's page;
platelets of one donor 277 mL: Canadian Blood Services; cryoprecipitate from memory.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from dosing.check import earlier, products
from dosing.ground.facts import Amount, Dose, Weight
from tests.copying import replace
from tests.dosing.bedside import RULES, ago, check, codes, facts

BLOOD = RULES.treatments["blood-product"]


def unit(number: int, value: float, of: str, product: str | None = None, infused: float | None = None) -> Dose:
    """One bag of blood, the oldest first."""
    ran = None if infused is None else Amount(infused, "mL")
    known = {"treatment": "blood-product", "amount": Amount(value, of), "product": product, "infused": ran}
    return Dose(id=f"bag {number}", given_at=ago(100 - number), **known)


@pytest.mark.parametrize(
    ("product", "milliliters"),
    [
        ("red cells", 300),
        ("PRBC", 300),
        ("O neg packed red cells", 300),
        ("whole blood", 500),
        ("LTOWB", 500),
        ("FFP", 250),
        ("Plasma, thawed", 250),
        ("apheresis platelets", 280),
        ("PLT", 280),
        ("cryo", 100),
        (None, None),
        ("granulocytes", None),
    ],
)
def test_a_bag_of_a_product_is_told_in_ml(product, milliliters):
    given = check("blood-product", 1, "bag", product=product).give

    assert given.volume == (None if milliliters is None else Amount(milliliters, "mL"))


def test_of_two_products_in_one_name_the_longer_is_meant():
    """``Plasma`` stands in ``platelets in plasma`` too: the longer word is the product."""
    assert products.holds("platelets in plasma", RULES).value == 280
    assert products.holds(None, RULES) is None


@pytest.mark.parametrize(
    ("amount", "kg", "bags"),
    [
        (Amount(10, "mL/kg"), 30, Fraction(1)),  # of red cells: 300 mL
        (Amount(10, "mL/kg"), 15, Fraction(1, 2)),
        (Amount(10, "mL/kg"), None, Fraction(0)),  # nobody knew how much that is
        (None, 30, Fraction(0)),
    ],
)
def test_a_volume_per_kg_is_so_many_bags_at_the_weight_of_then(amount, kg, bags):
    dose = unit(0, 1, "bag", "red cells")
    then = replace(dose, amount=amount, weight=None if kg is None else Weight(kg, "kg", "measured"))

    assert products.bags(then, BLOOD, RULES) == bags


def test_two_bags_are_twice_as_much_and_a_volume_stays_one():
    assert check("blood-product", 2, "bag", product="plasma").give.volume == Amount(500, "mL")
    assert check("blood-product", 280, "mL", product="plasma").give.volume == Amount(280, "mL")


@pytest.mark.parametrize(
    ("dose", "bags"),
    [
        (unit(0, 300, "mL", "red cells"), 1),
        (unit(0, 250, "mL", "whole blood"), 0.5),
        (unit(0, 600, "mL"), 1),
        (unit(0, 1, "bag", "plasma"), 1),
        (unit(0, 1, "bag", "red cells", infused=150), 0.5),
        (replace(unit(0, 2, "bag", "red cells"), infused=Amount(0.5, "bag")), 0.5),
    ],
)
def test_how_many_bags_a_dose_was(dose, bags):
    assert products.bags(dose, BLOOD, RULES) == bags


@pytest.mark.parametrize(
    ("count", "product", "reached"),
    [(5, "red cells", False), (4, "red cells", True), (5, None, True), (9, None, False), (5, "whole blood", True)],
)
def test_calcium_goes_by_the_bags_that_were_given(count, product, reached):
    """Five of 300 mL of red cells open a second dose; of a product that nobody named 600 mL are a bag."""
    blood = tuple(unit(number, 300, "mL", product) for number in range(count))
    first = Dose(id="calcium", treatment="calcium-chloride", given_at=ago(50), amount=Amount(1, "g"))
    known = facts(doses=(*blood, first), signs={"lungs": "clear"})

    assert ("count_reached" in codes(check("calcium-chloride", 1, "g", known))) is reached


def test_bags_that_are_only_added_up_count_as_they_did_one_by_one():
    blood = tuple(unit(number, 300, "mL", "red cells") for number in range(5))

    assert earlier.with_given({}, blood, RULES)["blood-product"].bags == "5"
