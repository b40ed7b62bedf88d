"""For a guessed weight: the true weights for which the rules would say the same of the dose that was measured out.

The dose stays what it comes to at the guess, and so does what was given before; only the limits move with the weight.
They are straight lines of it with caps, so the verdict can change only where a limit per kg meets the dose or the sum,
at the edge of a band, and where a child counts as an adult. Between two such edges it is the same at every weight.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import count, pairwise
from math import ceil, floor

from dosing import text, units
from dosing.facts import Amount, Dose, Patient
from dosing.findings import LEVELS, Finding, level_of, worst
from dosing.limits_bands import LIMITS, Limits, Person
from dosing.limits_case import Question
from dosing.limits_dose import Proposed
from dosing.patient import is_adult_for_dosing
from dosing.rule_set import Limit
from dosing.tables import load
from dosing.units import Quantity

GUESSED = ("stated", "length", "age")
_LEAST, _MOST = (Fraction(load("growth")["possible"][name]) for name in ("least_kg", "most_kg"))
_HEAVY = Fraction(load("age_tables")["adult"]["dosing_heavy_kg"])
_WORDS = {"needs_order": "needs an order", "over_hard_limit": "over the hard limit"}
_DIGITS = 20  # all of them: a bound is never rounded again where it is printed
# The finding that a limit leads to; of it, the one that shows how grave passing the limit can at most be.
_CODES = {"least": "below_least", "guide": "above_guide", "most": "above_most", "hard": "above_hard_limit"} | {
    "total": "total_reached",
    "total_guide": "above_guide",
    "total_hard": "above_hard_limit",
}
_OF_WEIGHT = frozenset({*_CODES.values(), "count_reached", "weight_estimated"})

Judge = Callable[[Proposed], Iterable[Finding]]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightRange:
    """From ``least`` to ``most`` kg, both with the verdict; None where it holds for everybody lighter or heavier."""

    verdict: str
    least: Fraction | None
    most: Fraction | None

    @property
    def text(self) -> str:
        """Such as ``within for 9.4–14.8 kg``, ``within for 9.4 kg and more``, ``caution for 14.8 kg and less``."""
        least, most = (None if edge is None else text.number_text(edge, _DIGITS) for edge in (self.least, self.most))
        span = f"{least}–{most} kg" if least and most else f"{least} kg and more" if least else f"{most} kg and less"
        return f"{_WORDS.get(self.verdict, self.verdict)} for {span}"

    def as_dict(self) -> dict[str, object]:
        """The range as the API answers it."""
        least, most = (None if edge is None else float(edge) for edge in (self.least, self.most))
        return {"least": least, "most": most, "text": self.text}


def weight_range(asked: Proposed, found: Iterable[Finding], judge: Judge) -> WeightRange | None:
    """The range round the guess within which ``judge`` finds what is as grave as what it ``found`` at the guess.

    That the weight is a guess is no finding here. None where the weight was measured or is unknown, and where no weight
    would change the verdict.
    """
    weight = asked.question.bedside.facts.patient.weight
    if weight is None or weight.basis not in GUESSED:
        return None
    verdict, guess, doses = _verdict(found), Fraction(str(weight.value)), tuple(_measured_out(asked.question))
    edges = sorted(set(_edges(asked, LEVELS.index(verdict), _fixed(found))))

    def holds(kilograms: Fraction) -> bool:
        return _verdict(judge(_weighed(asked, kilograms, doses))) == verdict

    low = _reach(guess, [*(edge for edge in reversed(edges) if edge < guess), _LEAST], holds, guess in edges)
    high = _reach(guess, [*(edge for edge in edges if edge > guess), _MOST], holds, guess in edges)
    if low is None and high is None:
        return None
    return WeightRange(verdict=verdict, least=_up(low, guess), most=_down(high, guess))


def _verdict(found: Iterable[Finding]) -> str:
    return worst(finding for finding in found if finding.code != "weight_estimated")


def _fixed(found: Iterable[Finding]) -> int:
    """How grave that is which stays whatever the weight, as long as the same bands hold."""
    return LEVELS.index(worst(finding for finding in found if finding.code not in _OF_WEIGHT))


def absolute(question: Question, amount: Amount | None) -> Amount | None:
    """An amount per kg as what it comes to at the weight that is on record, exactly; others as they are."""
    if amount is None or not units.per_kg(amount.unit) or question.bedside.person.weight is None:
        return amount
    unit = amount.unit.replace("/kg", "")
    return Amount(units.number(question.absolute(amount), unit), unit)  # type: ignore[arg-type]  # exact, never shown


def _measured_out(question: Question) -> Iterator[Dose]:
    for dose in question.bedside.facts.doses:
        amount = absolute(question, dose.amount)
        yield dose if amount is dose.amount else replace(dose, amount=amount)


def _weighed(asked: Proposed, kilograms: Fraction, doses: tuple[Dose, ...]) -> Proposed:
    """The same dose for a patient who weighs so much."""
    bedside, patient = asked.question.bedside, _of_weight(asked, kilograms)
    facts = replace(bedside.facts, patient=patient, doses=doses)
    question = replace(asked.question, bedside=replace(bedside, facts=facts, person=_person(asked, patient)))
    return replace(asked, question=question)


def _of_weight(asked: Proposed, kilograms: Fraction) -> Patient:
    patient = asked.question.bedside.facts.patient
    return replace(patient, weight=replace(patient.weight, value=kilograms))  # type: ignore[type-var]


def _person(asked: Proposed, patient: Patient) -> Person:
    weight, adult = units.body_weight(patient.weight), is_adult_for_dosing(patient)
    return replace(asked.question.bedside.person, weight=weight, adult=adult)


def _edges(asked: Proposed, verdict: int, fixed: int) -> Iterator[Fraction]:
    """The weights at which the verdict can change: corners, and where a limit between two corners meets a dose.

    A limit whose finding weighs less than the verdict cannot change it; nor one that weighs no more than what stays.
    """
    corners = sorted(set(_corners(asked)))
    yield from corners
    least_level = max(verdict, 1 if corners else fixed + 1)
    for start, end in pairwise([_LEAST, *corners, _MOST]):
        limits = Limits(asked.question.treatment, _person(asked, _of_weight(asked, (start + end) / 2)))
        grave = [name for name in LIMITS if LEVELS.index(level_of(_CODES[name])) >= least_level]
        yield from (edge for edge in _meetings(asked, limits, grave) if start < edge < end)


def _corners(asked: Proposed) -> Iterator[Fraction]:
    """Where other limits begin to hold: at the edges of bands, and where a child counts as an adult."""
    if len({is_adult_for_dosing(_of_weight(asked, kilograms)) for kilograms in (_LEAST, _HEAVY)}) > 1:
        yield _HEAVY
    for band in asked.question.treatment.bands:
        edges = (band.where.from_kg, band.where.under_kg)
        yield from (Fraction(edge) for edge in edges if edge is not None and _LEAST < edge < _MOST)


def _meetings(asked: Proposed, limits: Limits, names: Iterable[str]) -> Iterator[Fraction]:
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


def _reach(
    guess: Fraction, edges: Iterable[Fraction], holds: Callable[[Fraction], bool], on_edge: bool
) -> tuple[Fraction, bool] | None:
    """How far the verdict holds outward over the edges, the last of them the end of all weights, and whether on it.

    None where it holds to the end. ``on_edge``: the guess is an edge itself, so beside it the verdict may be another.
    """
    *inner, end = edges
    last, known = guess, not on_edge
    for edge in inner:
        if not known and not holds((last + edge) / 2):
            return last, True
        if not holds(edge):
            return edge, False
        last, known = edge, False
    return None if known or holds((last + end) / 2) else (last, True)


def _up(edge: tuple[Fraction, bool] | None, guess: Fraction) -> Fraction | None:
    """The lower bound rounded up, to as few decimals as leave the guess within: what is printed is always true."""
    if edge is None:
        return None
    exact, on_it = edge
    for scale in (10**places for places in count(1)):
        bound = Fraction(ceil(exact * scale), scale)
        bound += 0 if on_it or bound != exact else Fraction(1, scale)
        if bound <= guess:
            break
    return bound


def _down(edge: tuple[Fraction, bool] | None, guess: Fraction) -> Fraction | None:
    """The upper bound, rounded down likewise."""
    if edge is None:
        return None
    exact, on_it = edge
    for scale in (10**places for places in count(1)):
        bound = Fraction(floor(exact * scale), scale)
        bound -= 0 if on_it or bound != exact else Fraction(1, scale)
        if bound >= guess:
            break
    return bound
