"""What to give: dose, volume or pump rate, the strength behind it, and the syringe that reads the volume."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from dosing.check import infusion, strengths
from dosing.check.dosage import Proposed
from dosing.check.findings import Finding, amount_dict
from dosing.ground import text, units
from dosing.ground.facts import Amount
from dosing.ground.units import Quantity
from dosing.mix import syringes


@dataclass(frozen=True, kw_only=True)
class Give:
    """Contract, "give": ``shown`` is dose, volume and strength on one line; ``syringe`` the smallest that reads it.

    ``if_swapped`` says what the same volume would be of each other strength that is listed.
    """

    dose: Amount
    volume: Amount | None = None
    rate: Amount | None = None
    shown: str = ""
    syringe: Amount | None = None
    if_swapped: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, object]:
        """As the API answers it."""
        named = {"dose": self.dose, "volume": self.volume, "rate": self.rate, "syringe": self.syringe}
        shown = {name: None if amount is None else amount_dict(amount) for name, amount in named.items()}
        return {**shown, "shown": self.shown, "if_swapped": list(self.if_swapped)}


def give(asked: Proposed) -> tuple[Give, list[Finding]]:
    """The dose as it is given, and the findings about strength and volume."""
    treatment = asked.question.treatment
    if treatment.form == "infusion":
        return _infusion(asked)
    if treatment.drug_class in ("fluid", "blood"):
        return _bolus(asked), []
    return _drug(asked)


def _bolus(asked: Proposed) -> Give:
    dose, over_min = asked.shown(asked.dose), asked.proposal.over_min
    volume = None if units.is_per_kg(asked.dose) or dose.unit == "bag" else units.amount(asked.dose, "mL")
    shown = text.amount_text(dose) + text.over_text(over_min)
    if over_min is None or volume is None:
        return Give(dose=dose, volume=volume, shown=shown)
    rate = Amount(float(Fraction(str(volume.value)) * 60 / Fraction(str(over_min))), "mL/h")
    return Give(dose=dose, volume=volume, rate=rate, shown=shown)


def _infusion(asked: Proposed) -> tuple[Give, list[Finding]]:
    dose, stated = asked.shown(asked.dose), asked.proposal.concentration
    listed = asked.question.treatment.concentrations
    if stated is None and len(listed) != 1:
        return Give(dose=dose, shown=text.amount_text(dose)), [strengths.not_stated(asked, listed)]
    strength = stated or listed[0].amount
    rate = infusion.pump_rate(asked.dose, units.quantity(strength), asked.question.bedside.person.weight)
    shown_rate = None if rate is None else units.amount(rate, "mL/h")
    given = Give(dose=dose, rate=shown_rate, shown=text.dose_text(dose, shown_rate, strength))
    return given, [*strengths.of_bag(asked, strength), *infusion.deliverable(asked.question, rate)]


def _drug(asked: Proposed) -> tuple[Give, list[Finding]]:
    dose = asked.shown(asked.dose)
    strength, found = strengths.in_hand(asked)
    if strength is None or units.is_per_kg(asked.dose):
        return Give(dose=dose, shown=text.amount_text(dose)), found
    volume = asked.dose / strength
    shown_volume = units.amount(volume, "mL")
    syringe, unread = _syringe(asked, volume)
    shown = text.dose_text(dose, shown_volume, units.amount(strength, strengths.shown_unit(asked)))
    swapped = strengths.if_swapped(asked, volume, strength)
    shown += _elemental(asked)
    return Give(dose=dose, volume=shown_volume, shown=shown, syringe=syringe, if_swapped=swapped), found + unread


def _elemental(asked: Proposed) -> str:
    """The calcium in the salt, of which the figure is that of the strength that is stocked: thinner holds no more."""
    figure, stocks = asked.question.treatment.elemental, asked.question.treatment.stocks
    if figure is None or not stocks:
        return ""
    milligrams = units.number(asked.dose / stocks[0].exact, "mL") * Fraction(str(figure.value))
    return f" ({text.number_text(milligrams)} mg elemental calcium)"


def _syringe(asked: Proposed, volume: Quantity) -> tuple[Amount | None, list[Finding]]:
    """The syringe to take, and for a push that is measured by syringe the finding that none reads the volume.

    A volume that no syringe holds goes by several or by bag.
    """
    rules, millilitres = asked.question.bedside.rules, units.number(volume, "mL")
    syringe, holding = syringes.smallest([millilitres], rules), syringes.holding(millilitres, rules)
    if syringe is not None or holding is None or "measurable" not in asked.question.treatment.flags:
        return syringe, []
    holds, reads = holding
    near = [
        f"{text.number_text(mark)} mL is {text.amount_text(asked.shown(asked.dose * (mark / millilitres)))}"
        for mark in syringes.neighbours(millilitres, holds, reads)
    ]
    cannot = f"{text.number_text(millilitres)} mL cannot be read"
    words = f"a {text.number_text(holds.value)} mL syringe reads to {text.number_text(reads.value)} mL"
    said = f"{cannot}: {words}; {', '.join(near)}"
    return None, [asked.question.find("volume_not_measurable", said, reads.source, Amount(reads.value, "mL"))]
