"""At which weights the verdict on a dose can change.

Limits are straight lines of the weight with caps, so it can change only where a limit per kg comes to the dose or the
sum with what was given, at the edge of a band, and where a child counts as an adult.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from msgspec import structs

from dosing.check.bands import LIMITS, DoseLimits, Person
from dosing.check.dosage import Proposed
from dosing.check.findings import LEVELS, level_of
from dosing.ground import units
from dosing.ground.facts import Patient
from dosing.ground.patient import is_adult_for_dosing
from dosing.ground.tables import load
from dosing.ground.units import Quantity
from dosing.rules.rule_set import Limit

LIGHTEST, HEAVIEST = (Fraction(load("patient/growth")["possible"][name]) for name in ("least_kg", "most_kg"))
_HEAVY = Fraction(load("ground/age_tables")["adult"]["dosing_heavy_kg"])
# The finding that passing a limit leads to; where there are several, the gravest.
CODES = {"least": "below_least", "guide": "above_guide", "most": "above_most", "hard": "above_hard_limit"} | {
    "total": "total_reached",
    "total_guide": "above_guide",
    "total_hard": "above_hard_limit",
}


def of_weight(asked: Proposed, kilograms: Fraction) -> Patient:
    """The patient of the question, weighing so much."""
    patient = asked.question.bedside.facts.patient
    return structs.replace(patient, weight=structs.replace(patient.weight, value=kilograms))  # type: ignore[type-var]


def person(asked: Proposed, patient: Patient) -> Person:
    """What the limits ask about that patient at this bedside."""
    weight, adult = units.body_weight(patient.weight), is_adult_for_dosing(patient)
    return replace(asked.question.bedside.person, weight=weight, adult=adult)


def edges(asked: Proposed, verdict: str, fixed: str) -> Iterator[Fraction]:
    """The weights in kg at which the verdict can change: corners, and where a limit between two corners meets a dose.

    ``fixed`` is the level of all that has nothing to do with the weight. A limit whose finding weighs less than the
    verdict cannot change it; nor, without corners, one that weighs no more than what is fixed.
    """
    corners = sorted(set(_corners(asked)))
    yield from corners
    least = max(LEVELS.index(verdict), 1 if corners else LEVELS.index(fixed) + 1)
    grave = [name for name in LIMITS if LEVELS.index(level_of(CODES[name])) >= least]
    for start, end in pairwise([LIGHTEST, *corners, HEAVIEST]):
        limits = DoseLimits(asked.question.treatment, person(asked, of_weight(asked, (start + end) / 2)))
        yield from (edge for edge in _meetings(asked, limits, grave) if start < edge < end)


def _corners(asked: Proposed) -> Iterator[Fraction]:
    """Where other limits begin to hold: at the edges of bands, and where a child counts as an adult."""
    if len({is_adult_for_dosing(of_weight(asked, kilograms)) for kilograms in (LIGHTEST, _HEAVY)}) > 1:
        yield _HEAVY
    for band in asked.question.treatment.bands:
        edges = (band.where.from_kg, band.where.under_kg)
        yield from (Fraction(str(edge)) for edge in edges if edge is not None and LIGHTEST < edge < HEAVIEST)


def _meetings(asked: Proposed, limits: DoseLimits, names: Iterable[str]) -> Iterator[Fraction]:
    """The weights at which a limit per kg comes to the dose, or to the sum with what was given."""
    used, count_of = asked.question.used, limits.count if asked.question.treatment.count_by_volume else None
    sum_of = asked.dose if used is None or used.units != asked.dose.units else used + asked.dose
    for name in names:
        limit = limits.limit(name)
        if limit is None or not limit.per_kg:
            continue
        yield from _meeting(limit, sum_of if name.startswith("total") else asked.dose)
        if name == "most" and count_of is not None:
            yield from _meeting(limit, sum_of / int(count_of.value))


def _meeting(limit: Limit, amount: Quantity) -> Iterator[Fraction]:
    """Where the limit comes to the amount; nowhere if its caps keep it from that."""
    kilograms = Fraction(amount.magnitude) / Fraction(limit.exact.magnitude)
    least, most = (None if cap is None else cap.magnitude for cap in (limit.exact_least, limit.exact_most))
    if (least is None or amount.magnitude >= least) and (most is None or amount.magnitude <= most):
        yield kilograms
