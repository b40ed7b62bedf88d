"""Products of blood by their names: what a bag of one holds, and how many bags a dose of it is."""

from __future__ import annotations

from fractions import Fraction

from dosing.ground import units
from dosing.ground.facts import Amount, Dose
from dosing.ground.units import in_volume
from dosing.rules.names import spoken, words_of
from dosing.rules.rule_set import Figure, RuleSet, Treatment


def holds(product: str | None, rules: RuleSet) -> Figure | None:
    """What a bag of the product that is named usually holds; None where none is named that the rule set knows.

    Of several names the longest: ``packed red cells`` before ``red cells``.
    """
    words = spoken(product or "")
    named = [(words_of(name), each.holds) for each in rules.products for name in (each.name, *each.names)]
    found = [(len(name), figure) for name, figure in named if name in words]
    return max(found, key=lambda pair: pair[0])[1] if found else None


def volume(amount: Amount, product: str | None, rules: RuleSet) -> Amount | None:
    """The mL that so many bags of a product usually are; None where that is not known."""
    figure = holds(product, rules)
    if amount.unit != "bag" or figure is None:
        return None
    return Amount(float(Fraction(str(amount.value)) * Fraction(str(figure.value))), "mL")


def bags(dose: Dose, treatment: Treatment, rules: RuleSet) -> Fraction:
    """How many bags a dose was: as stated, else its volume as part of a bag of that product, or of the largest."""
    bag = holds(dose.product, rules) or treatment.bag
    amount = dose.amount
    if bag is None or amount is None or dose.none_went_in:
        return Fraction(0)
    if amount.unit == "bag" and dose.infused is None:
        return Fraction(str(amount.value))
    exact = in_volume(dose.infused or amount, bag.value)
    weight = units.body_weight(dose.weight)
    if units.is_per_kg(exact):
        if weight is None:
            return Fraction(0)
        exact = exact * weight
    return units.number(exact, "mL") / Fraction(str(bag.value))
