"""Which syringe, bag or cylinder a dose, an infusion or the oxygen comes from, and how much it draws."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from fractions import Fraction
from functools import lru_cache
from itertools import zip_longest

from msgspec import structs

from dosing.check import infusion
from dosing.ground import units
from dosing.ground.facts import Amount, Dose, OxygenFlow, Rate, Weight
from dosing.ground.units import Quantity
from dosing.held.container_state import ContainerState, minutes
from dosing.mix import stock
from dosing.rules.rule_set import Treatment


def draw(dose: Dose, treatment: Treatment, every: Sequence[ContainerState]) -> None:
    """Let a dose draw from what it names or hung, else from the newest in hand of its treatment and strength."""
    if dose.rates:
        _infuse(dose, treatment, every)
        return
    held = source(dose, treatment, every)
    if held is not None and dose.amount is not None:
        volume = volume_of(dose.amount, held, dose.weight)
        if volume is not None:
            _give(dose, volume, held)


def breathe(cylinders: Sequence[ContainerState], flows: Sequence[OxygenFlow]) -> None:
    """Let oxygen run from the newest cylinder that is open, at the flow that was read last."""
    for held, after in zip_longest(cylinders, cylinders[1:]):
        for flow, later in zip_longest(flows, flows[1:]):
            ends = [each for each in (after and after.container.at, later and later.at) if each]
            if flow.l_min:
                held.run(flow.at, min(ends, default=None), Fraction(str(flow.l_min)))


def source(dose: Dose, treatment: Treatment, every: Sequence[ContainerState]) -> ContainerState | None:
    """What a dose was drawn from, of what was recorded; None where it can be none of it."""
    named = [each for each in every if each.container.id in (dose.container, dose.id)]
    fitting = (each for each in reversed(every) if each.in_hand(dose.given_at) and _fits(dose, treatment, each))
    return named[0] if named else next(fitting, None)


def _fits(dose: Dose, treatment: Treatment, held: ContainerState) -> bool:
    """Whether it holds the treatment at the strength that was stated; a vial named in its place says what was mixed."""
    if held.container.treatment != dose.treatment:
        return False
    stated = dose.concentration or dose.stock
    if stated is None or held.container.strength is None or stated == held.container.strength:
        return True
    holds, said = units.quantity(held.container.strength), units.quantity(stated)
    drawn_up = None if dose.concentration else stock.recognize(treatment, said).strength
    return any(stock.alike(holds, each) for each in (said, drawn_up) if each is not None)


def _holds(dose: Dose, held: ContainerState) -> bool:
    """Whether the bag that was hung is not of another strength than the one that runs."""
    said, holds = dose.concentration, held.container.strength
    return not (said and holds) or stock.alike(units.quantity(holds), units.quantity(said))


def volume_of(amount: Amount, held: ContainerState, weight: Weight | None) -> Fraction | None:
    """The mL of a container that hold an amount; None where weight or strength is not known."""
    if amount.unit == "bag":
        return Fraction(str(amount.value)) * held.volume
    return volume_at(amount, held.container.strength, weight)


@lru_cache(maxsize=1024)
def volume_at(amount: Amount, strength: Amount | None, weight: Weight | None) -> Fraction | None:
    """The mL of a strength that hold an amount; kept, for every write of a case reckons all its doses anew."""
    exact = infusion.absolute(units.quantity(amount), units.body_weight(weight))
    return None if exact is None else in_ml(exact, strength)


# Each card tells of every syringe in hand how many doses it holds: the same few, again and again.
@lru_cache(maxsize=1024)
def in_ml(exact: Quantity, strength: Amount | None) -> Fraction | None:
    """The mL of a strength that hold an exact dose; None where the strength is not known or of another kind."""
    one = units.quantity(Amount(1, "mL"))
    if exact.units == one.units:
        return units.number(exact, "mL")
    volume = exact if strength is None else exact / units.quantity(strength)
    return units.number(volume, "mL") if volume.units == one.units else None


def _give(dose: Dose, volume: Fraction, source: ContainerState) -> None:
    """A single dose, or a bolus that runs over its time and may be stopped before it is in."""
    infused = _infused(dose)
    if infused is not None:
        source.take(infused, dose.ended_at or dose.given_at, dose)
    elif dose.over_min is None or dose.status in ("given", "finished"):
        source.take(volume, dose.ended_at or dose.given_at, dose)
    else:
        _pour(dose, volume, dose.over_min, source)


def _pour(dose: Dose, volume: Fraction, over_min: float, source: ContainerState) -> None:
    per_min, through = volume / Fraction(str(over_min)), dose.given_at + timedelta(minutes=over_min)
    if dose.status == "running":
        source.left_at, source.per_min, source.until = dose.given_at, per_min, through
        return
    ended = min(dose.ended_at or through, through)
    source.take(per_min * minutes(ended - dose.given_at), ended, dose)


def _infused(dose: Dose) -> Fraction | None:
    """What went in in all, where it was told as a volume."""
    if dose.infused is None or units.kind(dose.infused.unit) != "volume":
        return None
    return Fraction(0) if dose.none_went_in else units.number(units.quantity(dose.infused), "mL")


def chain(dose: Dose, treatment: Treatment, every: Sequence[ContainerState]) -> list[ContainerState]:
    """What an infusion runs from, one after the other: its own bag, then those that were mixed for it besides."""
    own = [each for each in every if each.container.id in (dose.container, dose.id) and _holds(dose, each)]
    apart = [each for each in every if each not in own and not each.container.hung and _fits(dose, treatment, each)]
    first = own or [each for each in apart if each.in_hand(dose.given_at)][-1:]
    return first + [each for each in apart if each not in first]


def _infuse(dose: Dose, treatment: Treatment, every: Sequence[ContainerState]) -> None:
    """Let each rate run from the bags of its strength, one after the other."""
    infused = _infused(dose)
    if infused is not None:
        _take_in_turn(chain(dose, treatment, every), infused, dose)
        return
    hung = dict[Amount | None, list[ContainerState]]()
    for at, until, rate in _stretches(dose):
        strength = rate.concentration or dose.concentration
        if strength not in hung:
            hung[strength] = chain(structs.replace(dose, concentration=strength), treatment, every)
        if line := hung[strength]:
            _run(line, at, until, _pump(rate.amount, strength or line[0].container.strength, rate.weight))


def _stretches(dose: Dose) -> Iterator[tuple[datetime, datetime | None, Rate]]:
    """Each rate at which it ran: from when, until when (None: it runs), how much; none past the end of the dose."""
    for rate, after in zip_longest(dose.rates, dose.rates[1:]):
        until = min(filter(None, (after and after.at, dose.ended_at)), default=None)
        if rate.amount is not None and (until is None or rate.at < until):
            yield rate.at, until, rate


def volume_run(dose: Dose) -> Fraction | None:
    """The mL of an infusion by its rates up to its end; None while it runs, or with strength or weight unknown."""
    if dose.ended_at is None or not dose.rates:
        return None
    volume = Fraction(0)
    for at, until, rate in _stretches(dose):
        per_min = _pump(rate.amount, rate.concentration or dose.concentration, rate.weight)
        if not per_min:
            return None
        volume += per_min * minutes((until or dose.ended_at) - at)
    return volume


def bolus_run(dose: Dose) -> Fraction | None:
    """The mL of a bolus by its time up to its end, at most all; None without a time or a volume."""
    if dose.ended_at is None or not dose.over_min or dose.amount is None or units.kind(dose.amount.unit) != "volume":
        return None
    part = minutes(dose.ended_at - dose.given_at) / Fraction(str(dose.over_min))
    return units.number(units.quantity(dose.amount), "mL") * min(part, Fraction(1))


def _run(chain: list[ContainerState], moment: datetime, end: datetime | None, per_min: Fraction) -> None:
    """Let the first of the chain run, then the next; what is empty or discarded drops out, but for the last."""
    while per_min:
        moment, over = chain[0].run(moment, end, per_min)
        if not over or len(chain) == 1:
            return
        del chain[0]


def _take_in_turn(chain: Sequence[ContainerState], volume: Fraction, dose: Dose) -> None:
    """What was infused in all: from the first as far as it holds, then from the next."""
    for held in chain:
        part = volume if held is chain[-1] else min(volume, held.left)
        held.take(part, dose.ended_at or dose.given_at, dose)
        volume -= part


@lru_cache(maxsize=1024)
def _pump(amount: Amount | None, strength: Amount | None, weight: Weight | None) -> Fraction:
    """The rate in mL a minute, nothing where strength or weight is not known."""
    if amount is None:
        return Fraction(0)
    exact, one = units.quantity(amount), units.quantity(Amount(1, "mL/min"))
    if exact.units == one.units:
        return units.number(exact, "mL/min")
    if strength is None:
        return Fraction(0)
    rate = infusion.pump_rate(exact, units.quantity(strength), units.body_weight(weight))
    return Fraction(0) if rate is None or rate.units != one.units else units.number(rate, "mL/min")
