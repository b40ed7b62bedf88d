"""The strength in the hand: which of the listed ones it is, or what comes of it if it is taken for one of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from dosing.ground import units
from dosing.ground.language import gettext as _
from dosing.ground.units import Quantity
from dosing.mix import dilution
from dosing.rules.rule_set import Recipe, RuleSet, Strength, Treatment

ROUNDED = Fraction(1, 100)  # strengths are stated rounded: 9.09, or 99 for what is called 100
TEN_FOLD = 10


@dataclass(frozen=True, slots=True)
class InHand:
    """A strength recognized.

    ``kind`` is ``stock`` (what the recipe is mixed from, or a vial that is listed), ``prepared``, ``undrained``,
    ``stronger`` (must not be given) or ``unlisted``. ``strength`` is that of what goes into the patient, None where it
    must not be given; ``results`` what the patient would get if it were taken for ``usual``.
    """

    kind: str
    strength: Quantity | None
    results: Quantity
    usual: Quantity


def recognize(treatment: Treatment, stock: Quantity) -> InHand:
    """Which strength is in the hand: the vial of the recipe, the prepared syringe, a slip, or one not on the list."""
    recipe = treatment.recipe
    if recipe is None:
        return _listed(treatment, stock)
    makes = recipe.makes.exact
    if stock == recipe.stock.exact:
        return InHand("stock", makes, makes, makes)
    if stock > recipe.stock.exact:
        return InHand("stronger", None, made_from(recipe, stock), makes)
    if stock == makes or (recipe.nominal and alike(stock, makes)):
        return InHand("prepared", makes, makes, makes)
    if not recipe.nominal and alike(stock, undrained(recipe)):
        return InHand("undrained", undrained(recipe), undrained(recipe), makes)
    return InHand("unlisted", stock, stock, makes)


def _listed(treatment: Treatment, stock: Quantity) -> InHand:
    """A strength of what comes ready, or of an infusion's bag: one of those listed, or taken for the nearest of them.

    A bag of any strength may be hung but an undiluted vial; what is ten times as strong as the strongest is another
    drug's.
    """
    infusion = treatment.form == "infusion"
    listed = [one.exact for one in (treatment.concentrations if infusion else treatment.stocks)]
    if not listed or stock in listed:
        return InHand("stock", stock, stock, stock)
    usual = min(listed, key=lambda one: times(stock, one) if stock > one else times(one, stock))
    vials = [mix.stock.exact for mix in treatment.mixes]
    too_strong = stock > max(listed) if treatment.strongest else times(stock, max(listed)) >= TEN_FOLD
    if stock >= min(vials) if vials else too_strong:
        return InHand("stronger", None, stock, usual)
    if any(not mix.nominal and alike(stock, undrained(mix)) for mix in treatment.mixes):
        return InHand("undrained", stock, stock, usual)
    return InHand("unlisted", stock, stock, usual)


def times(one: Quantity, other: Quantity) -> Fraction:
    """How many times the other strength the one is."""
    return Fraction((one / other).magnitude)


def alike(one: Quantity, other: Quantity) -> bool:
    """Whether two strengths are the same, as far as a label tells them apart."""
    if one.units != other.units:
        return False
    return abs(Fraction(one.magnitude) / Fraction(other.magnitude) - 1) <= ROUNDED


def made_from(recipe: Recipe, stock: Quantity) -> Quantity:
    """The strength that the recipe makes if ``stock`` is drawn up in place of the right one."""
    made: Quantity = recipe.makes.exact * times(stock, recipe.stock.exact)
    return made


def undrained(recipe: Recipe) -> Quantity:
    """The strength where no room was made for the drug: 1 mL on top of a full 10 mL, 4 mL on top of a full bag."""
    steps = next(iter(recipe.ways.values()))
    made = dilution.contents(steps)[-1]
    added: list[Quantity] = [
        units.quantity(step.volume) for step in steps if step.strength is not None and step.volume is not None
    ]
    full = made.volume + sum(added[1:], added[0])
    strength: Quantity = recipe.makes.exact * times(made.volume, full)
    return strength


def elsewhere(treatment: Treatment, rules: RuleSet, stock: Quantity) -> list[str]:
    """Where else that strength of the same drug belongs: ``stocked for EPINEPHrine into the muscle``."""
    same = [other for other in rules.treatments.values() if other.drug == treatment.drug and other != treatment]
    found = [
        _("{vial} for {strength}", vial=what, strength=other.title) for other in same for what in _what(other, stock)
    ]
    return ([_("the undiluted vial")] if _is_vial(treatment, stock) else []) + found


def _is_vial(treatment: Treatment, stock: Quantity) -> bool:
    ready = treatment.stocks if treatment.form != "infusion" else ()
    return any(one.exact == stock for one in (*ready, *(recipe.stock for recipe in treatment.recipes)))


def _what(treatment: Treatment, stock: Quantity) -> Iterator[str]:
    if _is_vial(treatment, stock):
        yield _("stocked")
    if any(one.exact == stock for one in treatment.concentrations):
        yield _("the bag")
    if treatment.recipe is not None and treatment.recipe.makes.exact == stock:
        yield _("the syringe")


def strengths(treatment: Treatment) -> list[Strength]:
    """Every strength that the rules list for a treatment: vials, bags, what its recipes start from and make."""
    mixed = [one for recipe in treatment.recipes for one in (recipe.stock, recipe.makes)]
    unique = {one.exact: one for one in (*treatment.stocks, *treatment.concentrations, *mixed)}
    return list(unique.values())
