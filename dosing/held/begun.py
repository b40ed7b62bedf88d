"""What is left in a syringe that nobody recorded: a prefilled one, or one made by the recipe and begun before."""

from __future__ import annotations

from datetime import datetime, timedelta
from fractions import Fraction

from dosing.ground import units
from dosing.ground.facts import Dose, Facts
from dosing.held import draws
from dosing.held.container_state import as_filled
from dosing.mix import stock
from dosing.rules.rule_set import RuleSet, Treatment


def left(treatment: Treatment, volume: Fraction, facts: Facts, rules: RuleSet, now: datetime) -> Fraction:
    """The mL that the pushes so far leave in one of this volume, of the recipe's strength; all of it in a new one.

    A push that it held no more was drawn from a new one, and so is the next once it must be discarded.
    """
    kept = timedelta(hours=rules.ledger.discard_after_h)
    rest, opened = volume, now
    for dose in sorted(_from_it(treatment, facts, rules), key=lambda each: each.given_at):
        drawn = _volume(dose, treatment)
        if rest == volume or rest < drawn or dose.given_at - opened > kept:
            rest, opened = volume, dose.given_at
        rest = max(rest - drawn, Fraction(0))
    return rest if rest and now - opened <= kept else volume


def _from_it(treatment: Treatment, facts: Facts, rules: RuleSet) -> list[Dose]:
    """The crew's pushes of this treatment, at no other strength, that no recorded syringe can have given."""
    recorded = [as_filled(each, rules) for each in facts.containers if each.cylinder is None]
    own = [each for each in facts.doses if each.treatment == treatment.slug and not each.prior]
    return [each for each in own if _volume(each, treatment) and draws.source(each, treatment, recorded) is None]


def _volume(dose: Dose, treatment: Treatment) -> Fraction:
    strength = treatment.recipe.makes.amount if treatment.recipe else None
    if dose.amount is None or (
        dose.stock and strength and not stock.alike(*map(units.quantity, (dose.stock, strength)))
    ):
        return Fraction(0)
    return draws.volume_at(dose.amount, strength, dose.weight) or Fraction(0)
