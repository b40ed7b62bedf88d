"""What to give: dose, volume or pump rate, the strength behind it, and the syringe that reads the volume."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from dosing.check import dosage, infusion, products, strengths
from dosing.check.dosage import Proposed
from dosing.check.findings import Finding, amount_dict
from dosing.ground import text, units
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.units import Quantity
from dosing.mix import syringes


@dataclass(frozen=True, kw_only=True)
class Give:
    """Contract, "give": dose, volume or rate of a ``strength``, a bolus ``over_min``; ``syringe`` reads it.

    ``shortest_min`` is the least time that the rules leave for it, where no time was stated.

    ``elemental`` is the calcium in a salt; ``if_swapped`` says what the same volume would be of each other strength
    that is listed.
    """

    dose: Amount
    volume: Amount | None = None
    rate: Amount | None = None
    strength: Amount | None = None
    over_min: float | None = None
    elemental: Amount | None = None
    syringe: Amount | None = None
    if_swapped: tuple[str, ...] = ()
    shortest_min: float | None = None

    @property
    def words(self) -> dict[str, str]:
        """What is told, part by part: the dose, what is drawn up or set, of which strength, in how long."""
        measured, of = self.rate if self.volume is None else self.volume, self.strength
        words = {"dose": text.amount_text(self.dose), "measure": "", "of": ""}
        if of is not None and measured is not None:
            words |= {"measure": f"= {text.amount_text(measured)}", "of": _("of {of}", of=text.amount_text(of))}
        if self.elemental is not None:
            words["of"] += _(" ({elemental} mg elemental calcium)", elemental=text.number_text(self.elemental.value))
        over = text.over_text(self.over_min) or text.over_text(self.shortest_min, _("at least "))
        return {**words, "over": over.strip()}

    @property
    def shown(self) -> str:
        """All of it on one line: ``10 mcg = 1 mL of 10 mcg per mL``."""
        return " ".join(filter(None, self.words.values()))

    def as_dict(self) -> dict[str, object]:
        """As the API answers it."""
        amounts = ("dose", "volume", "rate", "strength", "elemental", "syringe")
        told = {name: amount and amount_dict(amount) for name in amounts for amount in [getattr(self, name)]}
        times = {"over_min": self.over_min, "shortest_min": self.shortest_min}
        return {**told, **times, "shown": self.shown, "if_swapped": list(self.if_swapped)}


def give(asked: Proposed) -> tuple[Give, list[Finding]]:
    """The dose as it is given, and the findings about strength and volume."""
    given, found = _measured(asked)
    shortest = dosage.shortest(asked)
    if shortest is None or asked.proposal.over_min is not None:
        return given, found
    return replace(given, shortest_min=shortest.value), found


def _measured(asked: Proposed) -> tuple[Give, list[Finding]]:
    """The dose as what is drawn up, hung or set."""
    treatment = asked.question.treatment
    if treatment.form == "infusion":
        return _infusion(asked)
    if treatment.drug_class in ("fluid", "blood"):
        return _bolus(asked), []
    return _drug(asked)


def _bolus(asked: Proposed) -> Give:
    dose, over_min = asked.shown(asked.dose), asked.proposal.over_min
    rules, product = asked.question.bedside.rules, asked.proposal.product
    volume = None if units.is_per_kg(asked.dose) else units.amount(asked.dose, "mL")
    if dose.unit == "bag":
        volume = products.volume(dose, product, rules)
    if over_min is None or volume is None:
        return Give(dose=dose, volume=volume, over_min=over_min)
    rate = Amount(float(Fraction(str(volume.value)) * 60 / Fraction(str(over_min))), "mL/h")
    return Give(dose=dose, volume=volume, rate=rate, over_min=over_min)


def _infusion(asked: Proposed) -> tuple[Give, list[Finding]]:
    dose, stated = asked.shown(asked.dose), asked.proposal.concentration
    listed = asked.question.treatment.concentrations
    if stated is None and len(listed) != 1:
        return Give(dose=dose), strengths.not_stated(asked, listed)
    strength = stated or listed[0].amount
    found = strengths.of_bag(asked, strength)
    if any(each.code == "wrong_stock" for each in found):
        return Give(dose=dose), found
    rate = infusion.pump_rate(asked.dose, units.quantity(strength), asked.question.bedside.person.weight)
    shown_rate = None if rate is None else units.amount(rate, "mL/h")
    return Give(dose=dose, rate=shown_rate, strength=strength), [
        *found,
        *infusion.deliverable(asked.question, rate),
    ]


def _drug(asked: Proposed) -> tuple[Give, list[Finding]]:
    if asked.question.by_volume:
        return _bolus(asked), strengths.of_volume(asked)
    dose = asked.shown(asked.dose)
    strength, found = strengths.in_hand(asked)
    if strength is None or units.is_per_kg(asked.dose):
        return Give(dose=dose), found
    volume = asked.dose / strength
    syringe, unread = _divided(asked, strength) or _syringe(asked, volume)
    given = Give(
        dose=dose,
        volume=units.amount(volume, "mL"),
        strength=units.amount(strength, strengths.shown_unit(asked)),
        elemental=_elemental(asked),
        syringe=syringe,
        if_swapped=strengths.if_swapped(asked, volume, strength),
    )
    return given, found + unread


def _elemental(asked: Proposed) -> Amount | None:
    """The calcium in the salt, of which the figure is that of the strength that is stocked: thinner holds no more."""
    figure, stocks = asked.question.treatment.elemental, asked.question.treatment.stocks
    if figure is None or not stocks:
        return None
    milligrams = units.number(asked.dose / stocks[0].exact, "mL") * Fraction(str(figure.value))
    return Amount(float(milligrams), "mg")


def _divided(asked: Proposed, strength: Quantity) -> tuple[None, list[Finding]] | None:
    """Of what is given whole, as a nasal spray: no syringe, and the finding that it would have to be divided."""
    of_it = (each for each in asked.question.for_patient if each.whole and each.exact == strength)
    one = next(of_it, None)
    if one is None or one.whole is None:
        return None
    if (asked.dose / units.quantity(one.whole)).magnitude.denominator == 1:
        return None, []
    words = _(
        "{dose} cannot be measured: a {container} is not divided, each gives {given}",
        dose=text.amount_text(asked.shown(asked.dose)),
        container=one.name,
        given=text.amount_text(one.whole),
    )
    return None, [asked.question.find("volume_not_measurable", words, one.source, one.whole)]


def _syringe(asked: Proposed, volume: Quantity) -> tuple[Amount | None, list[Finding]]:
    """The syringe to take, and for a push that is measured by syringe the finding that none reads the volume.

    A volume that no syringe holds goes by several or by bag.
    """
    rules, milliliters = asked.question.bedside.rules, units.number(volume, "mL")
    syringe, holding = syringes.smallest([milliliters], rules), syringes.holding(milliliters, rules)
    if syringe is not None or holding is None or "measurable" not in asked.question.treatment.flags:
        return syringe, []
    holds, reads = holding
    near = [
        _(
            "{mark} mL is {dose}",
            mark=text.number_text(mark),
            dose=text.amount_text(asked.shown(asked.dose * (mark / milliliters))),
        )
        for mark in syringes.neighbors(milliliters, holds, reads)
    ]
    cannot = _("{milliliters} mL cannot be read", milliliters=text.number_text(milliliters))
    words = _(
        "a {holds} mL syringe is marked every {reads} mL",
        holds=text.number_text(holds.value),
        reads=text.number_text(reads.value),
    )
    said = f"{cannot}: {words}; {', '.join(near)}"
    return None, [asked.question.find("volume_not_measurable", said, reads.source, Amount(reads.value, "mL"))]
