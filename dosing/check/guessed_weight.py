"""For a guessed weight: the true weights for which the rules would say the same of the dose that was measured out.

The dose stays what it comes to at the guess, and so does what was given before; only the limits move with the weight.
They are straight lines of it with caps, so the verdict can change only where a limit per kg comes to the dose or to the
sum with what was given, at the edge of a band, and where a child counts as an adult: nothing is sampled.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import count, pairwise
from math import ceil

from msgspec import structs

from dosing.check.bands import LIMITS
from dosing.check.case import Question
from dosing.check.dosage import Proposed
from dosing.check.earlier import weighed
from dosing.check.findings import LEVELS, Finding, level_of, worst
from dosing.ground import text, units
from dosing.ground.facts import Amount, Facts, Weight
from dosing.ground.language import gettext as _
from dosing.ground.patient import is_adult_for_dosing
from dosing.ground.tables import load

GUESSED = ("stated", "length", "age")
LIGHTEST, HEAVIEST = (Fraction(load("patient/growth")["possible"][name]) for name in ("least_kg", "most_kg"))
_HEAVY = Fraction(load("ground/age_tables")["adult"]["dosing_heavy_kg"])
_WORDS = {"needs_order": _("needs an order"), "over_hard_limit": _("over the hard limit")}
_DIGITS = 20  # all of them: a bound is never rounded again where it is printed
# The finding that passing a limit leads to; where there are several, the gravest.
_CODES = {"least": "below_least", "guide": "above_guide", "most": "above_most", "hard": "above_hard_limit"} | {
    "start": "above_guide",
    "total": "total_reached",
    "total_guide": "above_guide",
    "total_hard": "above_hard_limit",
}
_ABOUT_THE_GUESS = ("weight_estimated", "weight_unlikely")  # they speak of the guess itself, not of another weight
_OF_WEIGHT = frozenset({*_CODES.values(), "count_reached", *_ABOUT_THE_GUESS})

Judge = Callable[[Proposed], Iterable[Finding]]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightRange:
    """From ``least`` to ``most`` kg, both with the verdict; None where it holds for everybody lighter or heavier.

    ``lighter`` and ``heavier`` are the verdicts just beyond them.
    """

    verdict: str
    least: Fraction | None
    most: Fraction | None
    lighter: str | None = None
    heavier: str | None = None

    @property
    def text(self) -> str:
        """Such as ``within for 9.4–14.8 kg``, ``within for 9.4 kg and more``, ``caution for 14.8 kg and less``."""
        least, most = (None if edge is None else text.number_text(edge, _DIGITS) for edge in (self.least, self.most))
        span = (
            f"{least}–{most} kg"
            if least and most
            else _("{least} kg and more", least=least)
            if least
            else _("{most} kg and less", most=most)
        )
        return _("{verdict} for {weights}", verdict=_WORDS.get(self.verdict, self.verdict), weights=span)

    @property
    def beyond(self) -> str:
        """What a patient outside would have: ``below 9.4 kg needs an order; over 14.8 kg caution``."""
        told = ((_("below"), self.least, self.lighter), (_("over"), self.most, self.heavier))
        return "; ".join(
            f"{side} {text.number_text(edge, _DIGITS)} kg {_WORDS.get(verdict, verdict)}"
            for side, edge, verdict in told
            if verdict and edge is not None
        )

    def as_dict(self) -> dict[str, object]:
        """The range as the API answers it."""
        least, most = (None if edge is None else float(edge) for edge in (self.least, self.most))
        beyond = {"lighter": self.lighter, "heavier": self.heavier, "beyond": self.beyond}
        return {"least": least, "most": most, "text": self.text, **beyond}


def weight_range(asked: Proposed, found: Iterable[Finding], judge: Judge) -> WeightRange | None:
    """The range round the guess within which ``judge`` finds what is as grave as what it ``found`` at the guess.

    That the weight is a guess is no finding here. None where the weight was measured or is unknown, and where no weight
    would change the verdict.
    """
    weight = asked.question.bedside.facts.patient.weight
    if weight is None or weight.basis not in GUESSED:
        return None
    guess, facts = Fraction(str(weight.value)), _measured_out(asked.question)
    here, fixed = (worst(each for each in found if each.code not in codes) for codes in (_ABOUT_THE_GUESS, _OF_WEIGHT))
    edges = set(_edges(asked, facts, here, fixed))

    def end(toward: int, farthest: Fraction) -> tuple[Fraction | None, str | None]:
        """The last weight with this verdict, and the verdict beyond; None where it holds for all."""
        for kilograms, last in _outward(guess, edges, farthest):
            there = judge(_at(asked, kilograms, facts))
            beyond = worst(each for each in there if each.code not in _ABOUT_THE_GUESS)
            if beyond != here:
                return _inward(last, kilograms != last, guess, -toward), beyond
        return None, None

    (least, lighter), (most, heavier) = end(-1, LIGHTEST), end(1, HEAVIEST)
    if lighter is None and heavier is None:
        return None
    return WeightRange(verdict=here, least=least, most=most, lighter=lighter, heavier=heavier)


def _edges(asked: Proposed, facts: Facts, verdict: str, fixed: str) -> Iterator[Fraction]:
    """The weights in kg at which the verdict can change: corners, and where a limit between two corners meets a dose.

    ``fixed`` is the level of all that has nothing to do with the weight. A limit whose finding weighs less than the
    verdict cannot change it; nor, without corners, one that weighs no more than what is fixed.
    """
    corners = sorted(set(_corners(asked, facts)))
    yield from corners
    least = max(LEVELS.index(verdict), 1 if corners else LEVELS.index(fixed) + 1)
    grave = [name for name in LIMITS if LEVELS.index(level_of(_CODES[name])) >= least]
    for start, end in pairwise([LIGHTEST, *corners, HEAVIEST]):
        between = _at(asked, (start + end) / 2, facts)
        yield from (edge for name in grave for edge in _meetings(between, name) if start < edge < end)


def _corners(asked: Proposed, facts: Facts) -> Iterator[Fraction]:
    """Where other limits begin to hold: at the edges of bands, and where a child counts as an adult."""
    if len({_at(asked, kilograms, facts).question.bedside.person.adult for kilograms in (LIGHTEST, _HEAVY)}) > 1:
        yield _HEAVY
    for band in asked.question.treatment.bands:
        edges = (band.where.from_kg, band.where.under_kg)
        yield from (Fraction(str(edge)) for edge in edges if edge is not None and LIGHTEST < edge < HEAVIEST)


def _meetings(asked: Proposed, name: str) -> Iterator[Fraction]:
    """The weights at which a limit per kg, caps aside, comes to the dose or to the sum with what was given."""
    question, dose = asked.question, asked.dose
    limit, used, of_count = question.limits.limit(name), question.used, question.limits.count
    if limit is None or not limit.per_kg:
        return
    sum_of = dose if used is None or used.units != dose.units else used + dose
    yield (sum_of if name.startswith("total") else dose).magnitude / limit.exact.magnitude
    if name == "most" and question.treatment.told_under is not None:
        yield dose.magnitude * 100 / (limit.exact.magnitude * Fraction(str(question.treatment.told_under.value)))
    if name == "most" and of_count is not None and question.treatment.count_by_volume:
        yield sum_of.magnitude / int(of_count.value) / limit.exact.magnitude


def _outward(guess: Fraction, edges: Collection[Fraction], farthest: Fraction) -> Iterator[tuple[Fraction, Fraction]]:
    """Weights to be asked on the way to the farthest, each with the last up to which the verdict holds before it.

    They are the edges, and one weight between each two; up to the first edge the verdict is that of the guess, unless
    this is an edge itself.
    """
    low, high = sorted((guess, farthest))
    last = guess
    for edge in (*sorted((edge for edge in edges if low < edge < high), reverse=guess > farthest), farthest):
        if last in edges:
            yield (last + edge) / 2, last
        if edge != farthest:
            yield edge, edge
        last = edge


def _inward(edge: Fraction, holds: bool, guess: Fraction, toward: int) -> Fraction:
    """A bound rounded up (``toward`` 1) or down (-1) to as few decimals as leave the guess within.

    So what is printed is always true; an edge on which the verdict is another one, which it does not hold, is passed.
    """
    for scale in (10**places for places in count(1)):
        bound = Fraction(toward * ceil(toward * edge * scale), scale)
        if bound == edge and not holds:
            bound += Fraction(toward, scale)
        if (guess - bound) * toward >= 0:
            break
    return bound


def absolute(question: Question, amount: Amount | None) -> Amount | None:
    """An amount per kg as what it comes to at the weight that is on record, exactly; others as they are."""
    if amount is None or not units.per_kg(amount.unit) or question.bedside.person.weight is None:
        return amount
    unit = amount.unit.replace("/kg", "")
    return structs.replace(amount, value=units.number(question.absolute(amount), unit), unit=unit)  # exact, never shown


def _measured_out(question: Question) -> Facts:
    """The facts with what was given per kg as what it came to."""
    facts, weight = question.bedside.facts, question.bedside.person.weight
    doses = tuple(structs.replace(dose, amount=absolute(question, dose.amount)) for dose in facts.doses)
    before = weighed(facts.earlier, weight) if weight is not None else facts.earlier
    return structs.replace(facts, doses=doses, earlier=before)


def _at(asked: Proposed, kilograms: Fraction, facts: Facts) -> Proposed:
    """The same dose, after the same, for a patient who weighs so much."""
    bedside, guess = asked.question.bedside, facts.patient.weight or Weight(0)
    patient = structs.replace(facts.patient, weight=structs.replace(guess, value=kilograms))
    person = replace(bedside.person, weight=units.body_weight(patient.weight), adult=is_adult_for_dosing(patient))
    there = replace(bedside, facts=structs.replace(facts, patient=patient), person=person)
    return replace(asked, question=replace(asked.question, bedside=there))
