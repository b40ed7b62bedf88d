"""A rate that was set for another weight than the one on record now: the pump gives the same, per kg it is another."""

from __future__ import annotations

from dosing.check.infusion import restated, set_for
from dosing.ground import text, units
from dosing.ground.facts import Amount, Rate, Weight
from dosing.ground.language import gettext as _
from dosing.ground.units import WrongUnit

PUMP = "mL/h"


def pump(rate: Rate, strength: Amount | None) -> Amount | None:
    """What the pump was set to; None where the strength, or the weight that it was reckoned by, is not known."""
    try:
        return rate.amount and restated(rate.amount, PUMP, rate.weight, strength)
    except WrongUnit:
        return None


def told(rate: Rate, strength: Amount | None, weight: Weight | None) -> str:
    """``set for 80 kg: for 8 kg it is 1 mcg/kg/min``; nothing where the weight is the same, or none is known."""
    if weight is None or rate.amount is None or (rate.weight is not None and rate.weight.value == weight.value):
        return ""
    per_kg = _per_kg(rate, strength, weight)
    if per_kg is None:
        return ""
    kilograms, now = text.amount_text(Amount(weight.value, "kg")), text.amount_text(per_kg)
    if rate.weight is None:
        return _("set before the weight was known: for {kilograms} it is {now}", kilograms=kilograms, now=now)
    then = text.amount_text(Amount(rate.weight.value, "kg"))
    return _("set for {then}: for {kilograms} it is {now}", then=then, kilograms=kilograms, now=now)


def _per_kg(rate: Rate, strength: Amount | None, weight: Weight) -> Amount | None:
    amount = set_for(rate, weight)
    if amount is None or units.per_kg(amount.unit):
        return amount
    if units.kind(amount.unit) == "volume/min":
        if strength is None:
            return None
        base, time = strength.unit.split("/")[0], "min"
    else:
        base, time = amount.unit.split("/")
    try:
        return restated(amount, f"{base}/kg/{time}", weight, strength)
    except WrongUnit:
        return None
