"""How many doses there may be before an order."""

from __future__ import annotations

from fractions import Fraction

from dosing.check import products
from dosing.check.case import Question
from dosing.ground import text
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.rules.rule_set import Figure


def count_text(count: Figure, limit: Amount) -> str:
    """``5 pushes``; where blood has opened more of them, ``2 doses (1 dose for each 4 bags of blood)``."""
    stated = f"{text.number_text(count.value)} {count.unit}"
    if count.value == limit.value:
        return stated
    return _("{limit} doses ({stated})", limit=text.number_text(limit.value), stated=stated)


def allowed_count(question: Question, count: Figure) -> float:
    """How many doses there may be: the count, or one more for each so many bags of blood."""
    shared = question.treatment.shared
    if shared is None or not shared.per_bags:
        return count.value
    blood = [t for t in question.bedside.rules.treatments.values() if t.drug_class == "blood"]
    bags = sum(
        (question_bags(Question(bedside=question.bedside, treatment=treatment)) for treatment in blood), Fraction(0)
    )
    return max(count.value, count.value * -(-bags // Fraction(shared.per_bags)))


def question_bags(question: Question) -> Fraction:
    """How many bags of blood were given, each by its product."""
    treatment, rules = question.treatment, question.bedside.rules
    before = question.bedside.facts.earlier.given.values()
    kept = (products.bags(dose, treatment, rules) for dose in question.given)
    return sum(kept, sum((Fraction(each.bags) for each in before if each.treatment == treatment.slug), Fraction(0)))
