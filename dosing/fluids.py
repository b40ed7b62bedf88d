"""Boluses of fluid: the flow that a time asks for, against what a cannula lets through."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from dosing import text, units
from dosing.facts import Amount
from dosing.findings import Finding
from dosing.limits_case import Question
from dosing.rule_set import RuleSet
from dosing.units import Quantity


def flow_needed(volume: Quantity, over_min: float) -> Fraction:
    """The flow in mL/min that gives a volume in a time."""
    return units.number(volume, "mL") / Fraction(str(over_min))


def nominal_flow(gauge: float, rules: RuleSet) -> float | None:
    """The nominal flow of a gauge by gravity in mL/min, None for a gauge that is not on the chart."""
    figure = rules.flow.get(f"{gauge:g}")
    return None if figure is None else figure.value


def deliverable(
    question: Question, volume: Quantity, route: str, gauge: float | None, over_min: float | None
) -> Iterator[Finding]:
    """Whether the volume can run in its time: through bone the rate is unknown, through a cannula its chart says."""
    within = question.treatment.within
    minutes = over_min or (within.value if within else None)
    if minutes is None:
        return
    needed, flow = flow_needed(volume, minutes), None if gauge is None else nominal_flow(gauge, question.bedside.rules)
    wanted = f"{text.amount_text(units.amount(volume, 'mL'))} in {text.minutes_text(minutes)}"
    if route == "IO" and over_min is not None:
        yield question.find("rate_not_deliverable", f"{wanted} through bone: rate unknown, watch the bag")
    elif gauge is not None and flow is not None and needed > Fraction(str(flow)):
        yield _too_narrow(question, wanted, needed, gauge, flow)


def _too_narrow(question: Question, wanted: str, needed: Fraction, gauge: float, flow: float) -> Finding:
    times = question.bedside.rules.flow["pressure_infuser"].value
    help_text = "pressure infuser or a larger bore" if needed <= Fraction(str(flow * times)) else "a larger bore"
    if not question.bedside.person.adult:
        help_text += ", or push and pull by syringe"
    runs = f"{gauge:g} G runs about {text.number_text(flow)} mL/min"
    words = f"{wanted} is {text.number_text(needed)} mL/min; {runs}: {help_text}"
    figure = question.bedside.rules.flow[f"{gauge:g}"]
    return question.find("rate_not_deliverable", words, figure.source, Amount(flow, "mL/min"))
