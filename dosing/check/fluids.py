"""Fluid by cannula, drip set and syringe: the flow that a time asks for, and with what it can be given."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from dosing.check import apart
from dosing.check.bands import fits
from dosing.check.case import Question
from dosing.check.findings import Finding
from dosing.ground import text, units
from dosing.ground.cannulas import gauge_on_record
from dosing.ground.exact import HALF
from dosing.ground.facts import Amount, Proposal
from dosing.ground.language import gettext as _
from dosing.ground.tables import load
from dosing.ground.units import Quantity
from dosing.rules.names import named, spoken, words_of
from dosing.rules.parts import Fluid
from dosing.rules.rule_set import PushPull, RuleSet

_A_MINUTE = 60


def product(question: Question, told: str) -> Iterator[Finding]:
    """A product that names another drug: strong saline, sugar, blood for a fluid; else which of the fluids listed."""
    known = named(told, question.bedside.rules)
    if known is not None and set(known.drugs) != {question.treatment.drug}:
        title = question.treatment.title
        words = _("“{product}” is not for this: it is not {treatment}", product=told, treatment=title)
        yield question.find("wrong_stock", words)
    elif question.treatment.fluids:
        yield from _listed(question, told)


def _listed(question: Question, told: str) -> Iterator[Finding]:
    """What of the fluids listed a text names: one that is barred, or by order; one that is not listed needs one."""
    words, person = spoken(told), question.limits.person
    listed = question.treatment.fluids
    found = [each for each in listed if any(words_of(name) in words for name in (each.name, *each.names))]
    reasons = [(each.barred, "") for each in found] + [(each.by_order, "needs_order") for each in found]
    fitting = [(reason, level) for reason, level in reasons if reason and fits(reason.where, person)]
    if fitting:
        reason, level = fitting[0]
        yield question.find("wrong_stock", f"“{told}”: {reason.text}", reason.source, level=level)
    elif not found:
        ready = ", ".join(each.name for each in listed if not (each.barred or each.by_order))
        yield question.find(
            "wrong_stock", _("“{told}” is not listed: {ready}", told=told, ready=ready), level="needs_order"
        )
    elif left := _left(told, found):
        asks = _("“{told}”: what else is in it? Not known here: {left}", told=told, left=left)
        yield question.find("wrong_stock", asks, level="needs_order")
    for each in found:
        yield from apart.findings(question, each.apart)


def _left(told: str, found: Iterable[Fluid]) -> str:
    """The words of a text that neither name one of these fluids nor change nothing about it."""
    names = (name for each in found for name in (each.name, *each.names))
    known = {_parted(name) for name in (*names, *load("check/fluids")["beside"]["names"])}
    either = "|".join(map(re.escape, sorted(known, key=len, reverse=True)))
    return " ".join(re.sub(rf"\b(?:{either})\b", "", _parted(told)).split())


def _parted(told: str) -> str:
    """A text as small words and numbers: ``D5NS`` is three."""
    return " ".join(re.findall("[a-z]+|[0-9]+", words_of(told)))


def flow_needed(volume: Quantity, over_min: float) -> Fraction:
    """The flow in mL/min that gives a volume in a time."""
    return units.number(volume, "mL") / Fraction(str(over_min))


def nominal_flow(gauge: float, rules: RuleSet) -> float | None:
    """The nominal flow of a gauge by gravity in mL/min, None for a gauge that is not on the chart."""
    figure = rules.flow.get(f"{gauge:g}")
    return None if figure is None else figure.value


def under_pressure(flow: float, rules: RuleSet) -> Fraction:
    """What a pressure infuser makes of a flow by gravity, mL/min."""
    return Fraction(str(flow)) * Fraction(str(rules.flow["pressure_infuser"].value))


@dataclass(frozen=True, slots=True)
class Cannula:
    """Whether a flow goes through a gauge by gravity, and whether with a pressure infuser."""

    gauge: int
    by_gravity: bool
    by_pressure: bool


def cannulas(needed: Fraction, rules: RuleSet) -> list[Cannula]:
    """Every gauge on the chart, the widest first, and whether a flow in mL/min goes through it."""
    chart = sorted((int(name), figure.value) for name, figure in rules.flow.items() if name.isdigit())
    return [
        Cannula(gauge, needed <= Fraction(str(flow)), needed <= under_pressure(flow, rules)) for gauge, flow in chart
    ]


@dataclass(frozen=True, slots=True)
class Drops:
    """A flow in drops of a set of ``per_ml``: ``per_min`` whole drops of ``exact``.

    ``usable``: no faster than can be counted, and whole drops are no further off than a pump's step may be.
    """

    per_ml: float
    per_min: int
    exact: Fraction
    usable: bool


def drops_per_min(flow: Fraction, per_ml: float) -> int:
    """Whole drops a minute for a flow in mL/min; half a drop rounds up."""
    return floor(flow * Fraction(str(per_ml)) + HALF)


def drops(flow: Fraction, rules: RuleSet) -> list[Drops]:
    """A flow in mL/min in drops a minute, for each set of the rules."""
    return [_drops(flow, each.drops.value, rules) for each in rules.drop_sets]


def _drops(flow: Fraction, per_ml: float, rules: RuleSet) -> Drops:
    exact, whole = flow * Fraction(str(per_ml)), drops_per_min(flow, per_ml)
    near = abs(whole - exact) * 100 <= exact * Fraction(str(rules.pump.off_percent))
    return Drops(per_ml, whole, exact, near and whole <= rules.flow["countable"].value)


@dataclass(frozen=True, slots=True)
class Strokes:
    """Pushing and pulling with a syringe of ``holds`` mL: ``count`` strokes, one each ``every_s``.

    ``last_ml`` is what the last of them gives. ``managed``: whether people managed such a flow with it; None where
    nobody measured it.
    """

    holds: float
    count: int
    every_s: Fraction
    last_ml: Fraction
    managed: bool | None


def strokes(volume: Quantity, over_min: float, syringe: PushPull) -> Strokes:
    """The strokes that give a volume in a time, the last of them with what is left."""
    milliliters, size = units.number(volume, "mL"), Fraction(str(syringe.holds.value))
    count, managed = ceil(milliliters / size), syringe.managed
    return Strokes(
        holds=syringe.holds.value,
        count=count,
        every_s=Fraction(str(over_min)) * _A_MINUTE / count,
        last_ml=milliliters - (count - 1) * size,
        managed=None if managed is None else flow_needed(volume, over_min) <= Fraction(str(managed.value)),
    )


@dataclass(frozen=True, slots=True)
class Observed:
    """What was seen of a bolus that runs: its flow in mL/min, and how many minutes the rest takes at that flow."""

    flow: Fraction
    left_min: Fraction


def observed(whole: Quantity, infused: Quantity, minutes: float) -> Observed | None:
    """The flow at which ``infused`` has run in over some minutes, and when the rest of ``whole`` will be in.

    None before any time has passed, or while nothing is in; nothing is left once all of it is in.
    """
    if minutes <= 0 or units.number(infused, "mL") <= 0:
        return None
    flow = flow_needed(infused, minutes)
    left = units.number(whole, "mL") - units.number(infused, "mL")
    return Observed(flow, max(left, Fraction(0)) / flow)


def deliverable(question: Question, volume: Quantity, proposal: Proposal) -> Iterator[Finding]:
    """Whether the volume can run in its time: through bone the rate is unknown, through a cannula its chart says.

    Where no gauge is stated, that of the cannula named counts, else of the widest on record.
    """
    minutes = proposal.over_min or minutes_allowed(question)
    if minutes is None:
        return
    wanted = f"{text.amount_text(units.amount(volume, 'mL'))} in {text.minutes_text(minutes)}"
    if proposal.route == "IO":
        if proposal.over_min is not None:
            yield question.find(
                "rate_not_deliverable", _("{wanted} IO: flow is unpredictable, watch the bag", wanted=wanted)
            )
        return
    known = gauge_on_record(question.bedside.facts.access, question.bedside.at, proposal.access)
    gauge = known if proposal.gauge is None else proposal.gauge
    flow = None if gauge is None else nominal_flow(gauge, question.bedside.rules)
    needed = flow_needed(volume, minutes)
    if gauge is not None and flow is not None and needed > Fraction(str(flow)):
        cannula = _("the {gauge:g} G on record", gauge=gauge) if proposal.gauge is None else f"{gauge:g} G"
        runs = _(
            "{cannula} runs about {flow} mL/min: {help}",
            cannula=cannula,
            flow=text.number_text(flow),
            help=_help(question, needed, flow),
        )
        words = _("{wanted} is {needed} mL/min; {runs}", wanted=wanted, needed=text.number_text(needed), runs=runs)
        source = question.bedside.rules.flow[f"{gauge:g}"].source
        yield question.find("rate_not_deliverable", words, source, Amount(flow, "mL/min"))


def _help(question: Question, needed: Fraction, flow: float) -> str:
    """What would let so much through."""
    fits = needed <= under_pressure(flow, question.bedside.rules)
    wider = _("pressure infuser or a larger bore") if fits else _("a larger bore")
    return wider if question.bedside.person.adult else _("{wider}, or push and pull by syringe", wider=wider)


def minutes_allowed(question: Question) -> float | None:
    """The time that the rules give a bolus, in minutes: no less than it takes for this patient."""
    within, shortest = question.treatment.within, question.shortest
    return max((each.value for each in (within, shortest) if each), default=None)
