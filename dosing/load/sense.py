"""What is made of the entries of one table once they are read, and what is wrong between them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from typing import Any

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.rules.ending import EndingCriterion
from dosing.rules.parts import First, Lasts, Limit, Source, Step, Stocked, Strength, Wants, Where
from dosing.rules.procedures import ProcedureRule
from dosing.rules.treatment import Indication, Treatment
from dosing.rules.vital_signs import LIMITS, SCALES, HighPressureRule, VitalSignRule

Values = Mapping[str, Any]
Around = Callable[[str], Any]  # what was read of a field in the nearest table around
Faults = Iterator[tuple[str, str]]  # each with the entry that it concerns
_ONE_KG = units.quantity(Amount(1, "kg"))


def _limit(values: Values, key: str, around: Around) -> Values:
    """The exact amounts; bags count as the treatment's bag holds."""
    bag = around("bag")
    names = {"exact": "amount", "exact_most": "at_most", "exact_least": "at_least"}
    stated = {name: values[entry] for name, entry in names.items() if entry in values}
    exact = {name: units.in_volume(amount, bag.value if bag else None) for name, amount in stated.items()}
    return {**exact, "per_kg": units.per_kg(values["amount"].unit)}


def _limit_faults(limit: Limit) -> Faults:
    most, least = ("at_most", limit.at_most, limit.exact_most), ("at_least", limit.at_least, limit.exact_least)
    for name, bound, exact in (most, least):
        if bound and exact and exact.units != (limit.exact * _ONE_KG if limit.per_kg else limit.exact).units:
            yield name, f"is stated in {bound.unit}, the limit in {limit.amount.unit}"


def _step(values: Values, key: str, around: Around) -> Values:
    stock = around("stock")
    return {"strength": stock.amount} if stock and values.get("drug") else {}


def _treatment_faults(treatment: Treatment) -> Faults:
    for who, more in (("adult", treatment.units_adult), ("child", treatment.units_child)):
        if not treatment.units | more:
            yield "units", f"no unit is said for the {who}"


def _where_faults(where: Where) -> Faults:
    edges = [("kg", where.from_kg, where.under_kg), ("days", where.from_days, where.under_days)]
    for name, low, high in [*edges, ("weeks", where.from_weeks, where.under_weeks)]:
        if high is not None and high <= (low or 0):
            yield f"under_{name}", f"is {high}, not above from_{name}: it is for nobody"


def _lasts_faults(lasts: Lasts) -> Faults:
    if lasts.least > lasts.most:
        yield "least", "exceeds most"


def _wants_faults(wants: Wants) -> Faults:
    if not wants.measurement and (wants.below is not None or wants.at_least is not None or wants.below_by_who):
        yield "measurement", "is missing: say of what this number is"
    if wants.airway and (wants.measurement or wants.history):
        yield "airway", "stands beside a measurement or a history: it goes by itself"
    if wants.mother_from_years is not None and (wants.measurement or wants.history or wants.level):
        yield "mother_from_years", "stands beside a measurement, a history or a level: it goes by itself"


def _procedure_faults(rule: ProcedureRule) -> Faults:
    paced = (rule.rate, rule.output_ma)
    shocked = (rule.first_j or rule.first_j_per_kg, rule.next_j or rule.next_j_per_kg)
    own, other = (paced, shocked) if rule.procedure == "pacing" else (shocked, paced)
    if None in own or any(other):
        yield "procedure", f"is {rule.procedure}, of which the settings are missing, or others stand here"
    for first, later in ((rule.first_j, rule.next_j), (rule.first_j_per_kg, rule.next_j_per_kg)):
        if first and later and first.value > later.value:
            yield "next_j" if first is rule.first_j else "next_j_per_kg", "is less than the first shock"


def _vital_sign_faults(rule: VitalSignRule) -> Faults:
    letters = SCALES.get(rule.measurement)
    for name, figure in rule.figures():
        if letters or (rule.unit and figure.unit != rule.unit):
            yield name, f"is stated in {figure.unit or 'nothing'}, {rule.measurement} in {rule.unit or 'letters'}"
    if not letters and (rule.danger or rule.warning):
        yield "danger", f"is stated in letters, {rule.measurement} in {rule.unit}"
    known = [(name, limit.value) for name in LIMITS if (limit := getattr(rule, name)) is not None]
    for (lower, low), (upper, high) in pairwise(known):
        if low > high:
            yield lower, f"exceeds {upper}"
    if rule.under_days is not None and rule.under_days <= (rule.from_days or 0):
        yield "under_days", f"is {rule.under_days}, not above from_days: it is for nobody"


def _high_pressure_faults(rule: HighPressureRule) -> Faults:
    """At least one danger, no warning above it, and an age band that somebody is in."""
    if rule.danger_sbp is None and rule.danger_dbp is None:
        yield "danger_sbp", "is missing, as danger_dbp is: say from where on it is a danger"
    for measure in ("sbp", "dbp"):
        warning, danger = getattr(rule, f"warning_{measure}"), getattr(rule, f"danger_{measure}")
        if warning and danger and warning.value > danger.value:
            yield f"warning_{measure}", f"exceeds danger_{measure}"
    if rule.under_days is not None and rule.under_days <= (rule.from_days or 0):
        yield "under_days", f"is {rule.under_days}, not above from_days: it is for nobody"


MADE: Mapping[type, Callable[[Values, str, Around], Values]] = {
    Limit: _limit,
    **dict.fromkeys((Strength, Stocked), lambda values, *_: {"exact": units.quantity(values["amount"])}),
    Step: _step,
    Source: lambda _, key, *__: {"id": key},
    **dict.fromkeys((Treatment, Indication, EndingCriterion), lambda _, key, *__: {"slug": key}),
}
FAULTS: Mapping[type, Callable[[Any], Faults]] = {
    Limit: _limit_faults,
    Treatment: _treatment_faults,
    Where: _where_faults,
    First: _where_faults,
    Lasts: _lasts_faults,
    Wants: _wants_faults,
    VitalSignRule: _vital_sign_faults,
    ProcedureRule: _procedure_faults,
    HighPressureRule: _high_pressure_faults,
}
