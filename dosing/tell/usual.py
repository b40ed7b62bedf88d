"""The amounts that are usually chosen within a patient's standing limits, each with its volume and its source."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from math import inf, nextafter, sqrt
from typing import Any

from dosing.check.case import Question
from dosing.check.findings import amount_dict
from dosing.check.infusion import starts
from dosing.ground import units
from dosing.ground.exact import as_written
from dosing.ground.facts import Amount
from dosing.ground.units import Quantity
from dosing.mix import syringes
from dosing.rules.plain import source_text
from dosing.rules.rule_set import RuleSet, Stocked, Strength

Plain = dict[str, Any]

_PARTS = (Fraction(1, 4), Fraction(1, 2))
_WIDE = 2  # from this many times the least on, one amount between least and most is offered
_FIVES = 50  # mL from which a fluid goes in steps of 5 mL, below it of 1 mL


def usual(question: Question, unit: str, limits: Mapping[str, Quantity | None]) -> list[Plain]:
    """A few amounts in ``unit``, smallest first, none beyond this patient's ``limits``: least, guide, start and most.

    So those ``above_guide`` stand last; of an infusion that does not run yet none is above its start. Each has
    ``amount``, ``per_kg`` (of a fluid), ``volumes`` (mL, or mL/h of an infusion, one for each ``strength``) and the
    ``source`` of the limit from which it comes.
    """
    bounds = {name: _number(question, exact, unit) for name, exact in limits.items()}
    most = bounds["most"]
    if most is None:
        return []
    least = bounds["least"] or Fraction(0)
    top, highest = _top(question, bounds.get("start"), most)
    guide = None if bounds["guide"] is None else min(bounds["guide"], highest)
    fluid = question.treatment.drug_class == "fluid"
    volumes = _volumes_of_one(question, unit)
    chosen = [*(_of_fluid(guide, most) if fluid else _of_drug(least, guide, highest, top))]
    middle = None if fluid else _middle(least, guide, highest)
    if middle is not None and _measured(question, middle, volumes, least) == middle:
        chosen.append((middle, top))
    found = {_measured(question, value, volumes, least): name for value, name in chosen}
    told = []
    for value in sorted(found):
        read = [(each, value * one) for each, one in volumes if _measures(question, each, value * one)]
        if value and least <= value <= most and (read or not volumes):  # what has no volume needs none
            amount = Amount(_shown(value, up=value == least < most), unit)
            told.append(_told(question, amount, read, found[value], guide))
    return told


def sources(question: Question) -> list[str]:
    """Where the standing limits of this patient come from, those of interval, count and total too, each once."""
    names = ("least", "guide", "start", "most", "total")
    single = (question.limits.limit(name) for name in names if name != "start" or starts(question))
    limits = (*single, question.limits.count, question.interval)
    return list(dict.fromkeys(source_text(limit.source) for limit in limits if limit is not None))


def _of_fluid(guide: Fraction | None, most: Fraction) -> Iterator[tuple[Fraction, str]]:
    if guide is None or guide == most:
        yield from ((most * part, "most") for part in _PARTS)
    else:
        yield from ((guide / 2, "guide"), (guide, "guide"))
    yield most, "most"


def _top(question: Question, start: Fraction | None, most: Fraction) -> tuple[str, Fraction]:
    """The limit up to which is offered, by its name: where no start is stated an infusion starts with the least."""
    if start is None:
        return "most", most
    return ("least" if question.limits.limit("start") is None else "start"), min(start, most)


def _middle(least: Fraction, guide: Fraction | None, most: Fraction) -> Fraction | None:
    """What is offered between least and most where no guide lies there; what no syringe reads is left out again."""
    between = guide is not None and least < guide < most
    return _one_digit(sqrt(least * most)) if least and most > _WIDE * least and not between else None


def _of_drug(least: Fraction, guide: Fraction | None, most: Fraction, top: str) -> Iterator[tuple[Fraction, str]]:
    if least:
        yield least, "least"
    if guide is not None:
        yield guide, "guide"
    yield most, top


def _one_digit(value: float) -> Fraction:
    """The value in one digit: the middle of a band is no exact thing."""
    return Fraction(f"{value:.1g}")


def _number(question: Question, exact: Quantity | None, unit: str) -> Fraction | None:
    weight = question.bedside.person.weight
    if exact is None:
        return None
    if unit == "bag" and question.treatment.bag is not None:
        return units.number(exact, "mL") / as_written(question.treatment.bag.value)
    return units.number(exact / weight if units.per_kg(unit) and weight is not None else exact, unit)


def _volumes_of_one(question: Question, unit: str) -> list[tuple[Strength, Fraction]]:
    """How many mL (mL/h of an infusion) one ``unit`` is at each strength; nothing for a fluid or a bag."""
    weight, of_rate = question.bedside.person.weight, question.treatment.form == "infusion"
    if not question.strengths:
        return []
    one = units.quantity(Amount(1, unit))
    if units.per_kg(unit) and weight is not None:
        one = one * weight
    unit = "mL/h" if of_rate else "mL"
    return [(each, units.quotient(one, each.exact, unit)) for each in question.strengths]


def _measured(
    question: Question, value: Fraction, volumes: list[tuple[Strength, Fraction]], least: Fraction
) -> Fraction:
    """The next amount below that a syringe reads; of a fluid in steps of 5 mL. The least goes up, not down."""
    if question.treatment.drug_class == "fluid":
        return _step(value, Fraction(5 if value >= _FIVES else 1))
    if question.treatment.form == "infusion" or len(volumes) != 1:
        return value
    mark = _mark(value * volumes[0][1], question.bedside.rules)
    if mark is None:
        return value
    step = mark / volumes[0][1]
    down = _step(value, step)
    return down if down >= least else down + step


def _measures(question: Question, strength: Strength, volume: Fraction) -> bool:
    """Whether the volume (mL) is more than the smallest mark of the smallest syringe; a pump's rate has no mark.

    That a single mark measures nothing is common practice, no source. A spray is not measured, but given whole.
    """
    if question.treatment.form == "infusion":
        return True
    if isinstance(strength, Stocked) and strength.whole is not None:
        return volume % units.quotient(units.quantity(strength.whole), strength.exact, "mL") == 0
    return volume > syringes.finest_mark(question.bedside.rules)


def _mark(volume: Fraction, rules: RuleSet) -> Fraction | None:
    """To what the smallest syringe that holds the volume reads, in mL; None where none is large enough."""
    holding = syringes.holding(volume, rules)
    return None if holding is None else as_written(holding[1].value)


def _step(value: Fraction, step: Fraction) -> Fraction:
    return value // step * step


def _shown(value: Fraction, *, up: bool = False) -> float:
    """The float that is no more than the value, or no less, so that what is offered passes its own check."""
    shown = float(value)
    if up:
        return nextafter(shown, inf) if as_written(shown) < value else shown
    return nextafter(shown, 0) if as_written(shown) > value else shown


def _told(
    question: Question, amount: Amount, read: list[tuple[Strength, Fraction]], name: str, guide: Fraction | None
) -> Plain:
    stated, kilograms = question.limits.limit(name), question.bedside.person.kilograms
    fluid = question.treatment.drug_class == "fluid" and kilograms is not None
    unit = "mL/h" if question.treatment.form == "infusion" else "mL"
    value = as_written(amount.value)
    return {
        "amount": amount_dict(amount),
        "above_guide": guide is not None and value > guide,
        "per_kg": amount_dict(Amount(amount.value / float(kilograms or 1), f"{amount.unit}/kg")) if fluid else None,
        "volumes": [
            {"strength": amount_dict(each.amount), "volume": amount_dict(Amount(float(volume), unit))}
            for each, volume in read
        ],
        "source": "" if stated is None else source_text(stated.source),
    }
