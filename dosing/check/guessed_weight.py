"""For a guessed weight: the true weights for which the rules would say the same of the dose that was measured out.

The dose stays what it comes to at the guess, and so does what was given before; only the limits move with the weight.
Between two of the weights that ``weight_edges`` names the verdict is the same at every weight: nothing is sampled.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import count
from math import ceil

from msgspec import structs

from dosing.check import weight_edges
from dosing.check.case import Question
from dosing.check.dosage import Proposed
from dosing.check.earlier import weighed
from dosing.check.findings import Finding, worst
from dosing.check.weight_edges import HEAVIEST, LIGHTEST, of_weight, person
from dosing.ground import text, units
from dosing.ground.facts import Amount, Facts

GUESSED = ("stated", "length", "age")
_WORDS = {"needs_order": "needs an order", "over_hard_limit": "over the hard limit"}
_DIGITS = 20  # all of them: a bound is never rounded again where it is printed
_ABOUT_THE_GUESS = ("weight_estimated", "weight_unlikely")  # they speak of the guess itself, not of another weight
_OF_WEIGHT = frozenset({*weight_edges.CODES.values(), "count_reached", *_ABOUT_THE_GUESS})

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
        span = f"{least}–{most} kg" if least and most else f"{least} kg and more" if least else f"{most} kg and less"
        return f"{_word(self.verdict)} for {span}"

    @property
    def beyond(self) -> str:
        """What a patient just outside would have: ``if lighter, needs an order; if heavier, caution``."""
        told = (("lighter", self.lighter), ("heavier", self.heavier))
        return "; ".join(f"if {which}, {_word(verdict)}" for which, verdict in told if verdict)

    def as_dict(self) -> dict[str, object]:
        """The range as the API answers it."""
        least, most = (None if edge is None else float(edge) for edge in (self.least, self.most))
        beyond = {"lighter": self.lighter, "heavier": self.heavier, "beyond": self.beyond}
        return {"least": least, "most": most, "text": self.text, **beyond}


@dataclass(frozen=True, slots=True)
class _End:
    """Where the verdict ends: at a weight, whether it still holds on it, and which verdict is beyond."""

    at: Fraction
    holds: bool
    beyond: str


def _word(verdict: str) -> str:
    return _WORDS.get(verdict, verdict)


def weight_range(asked: Proposed, found: Iterable[Finding], judge: Judge) -> WeightRange | None:
    """The range round the guess within which ``judge`` finds what is as grave as what it ``found`` at the guess.

    That the weight is a guess is no finding here. None where the weight was measured or is unknown, and where no weight
    would change the verdict.
    """
    weight = asked.question.bedside.facts.patient.weight
    if weight is None or weight.basis not in GUESSED:
        return None
    verdict, guess, measured_out = _verdict(found), Fraction(str(weight.value)), _measured_out(asked.question)
    edges = sorted(set(weight_edges.edges(asked, verdict, _fixed(found))))

    def other(kilograms: Fraction) -> str | None:
        there = _verdict(judge(_weighed(asked, kilograms, measured_out)))
        return None if there == verdict else there

    low = _reach(guess, [*(edge for edge in reversed(edges) if edge < guess), LIGHTEST], other, guess in edges)
    high = _reach(guess, [*(edge for edge in edges if edge > guess), HEAVIEST], other, guess in edges)
    if low is None and high is None:
        return None
    return WeightRange(
        verdict=verdict,
        least=_inward(low, guess, 1),
        most=_inward(high, guess, -1),
        lighter=None if low is None else low.beyond,
        heavier=None if high is None else high.beyond,
    )


def _verdict(found: Iterable[Finding]) -> str:
    return worst(finding for finding in found if finding.code not in _ABOUT_THE_GUESS)


def _fixed(found: Iterable[Finding]) -> str:
    """The level of what stays whatever the weight, as long as the same bands hold."""
    return worst(finding for finding in found if finding.code not in _OF_WEIGHT)


def absolute(question: Question, amount: Amount | None) -> Amount | None:
    """An amount per kg as what it comes to at the weight that is on record, exactly; others as they are."""
    if amount is None or not units.per_kg(amount.unit) or question.bedside.person.weight is None:
        return amount
    unit = amount.unit.replace("/kg", "")
    return Amount(units.number(question.absolute(amount), unit), unit)  # type: ignore[arg-type]  # exact, never shown


def _measured_out(question: Question) -> Facts:
    """The facts with what was given per kg as what it came to."""
    facts, weight = question.bedside.facts, question.bedside.person.weight
    doses = tuple(structs.replace(dose, amount=absolute(question, dose.amount)) for dose in facts.doses)
    before = weighed(facts.earlier, weight) if weight is not None else facts.earlier
    return structs.replace(facts, doses=doses, earlier=before)


def _weighed(asked: Proposed, kilograms: Fraction, measured_out: Facts) -> Proposed:
    """The same dose for a patient who weighs so much."""
    bedside, patient = asked.question.bedside, of_weight(asked, kilograms)
    facts = structs.replace(measured_out, patient=patient)
    question = replace(asked.question, bedside=replace(bedside, facts=facts, person=person(asked, patient)))
    return replace(asked, question=question)


def _reach(
    guess: Fraction, edges: Iterable[Fraction], other: Callable[[Fraction], str | None], on_edge: bool
) -> _End | None:
    """How far the verdict holds outward over the edges, the last of them the end of all weights.

    None where it holds to the end. ``other`` is the verdict at a weight where that is not the one of the guess;
    ``on_edge``: the guess is an edge itself, so beside it the verdict may be another.
    """
    *inner, end = edges
    last, known = guess, not on_edge
    for edge in inner:
        if not known and (beside := other((last + edge) / 2)):
            return _End(last, True, beside)
        if there := other(edge):
            return _End(edge, False, there)
        last, known = edge, False
    beside = None if known else other((last + end) / 2)
    return None if beside is None else _End(last, True, beside)


def _inward(end: _End | None, guess: Fraction, towards: int) -> Fraction | None:
    """A bound rounded up (``towards`` 1) or down (-1) to as few decimals as leave the guess within.

    So what is printed is always true; an edge on which the verdict is another one is passed.
    """
    if end is None:
        return None
    for scale in (10**places for places in count(1)):
        bound = Fraction(towards * ceil(towards * end.at * scale), scale)
        if bound == end.at and not end.holds:
            bound += Fraction(towards, scale)
        if (guess - bound) * towards >= 0:
            break
    return bound
