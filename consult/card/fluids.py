"""How much fluid the patient has had, and how many boluses are left before an order."""

from __future__ import annotations

from typing import Any

from dosing import units
from dosing.facts import Facts
from dosing.limits_case import Question, bedside
from dosing.rule_set import RuleSet, Treatment


def summary(facts: Facts, rules: RuleSet) -> dict[str, Any]:
    """Total in mL, per kg where the weight is known, boluses given and left; small steps do not use up the count."""
    at = max((dose.given_at for dose in facts.doses), default=facts.opened_at)
    patient = bedside(facts, rules, at)
    asked = [Question(bedside=patient, treatment=each) for each in _fluids(rules)]
    total = sum(float(units.number(each.used, "mL")) for each in asked if each.used is not None)
    weight = facts.patient.weight
    return {
        "total_ml": total,
        "ml_per_kg": round(total / weight.value, 2) if weight else None,
        "boluses": sum(len(each.given) for each in asked),
        "boluses_left": _left(asked[0]) if asked else None,
    }


def _fluids(rules: RuleSet) -> list[Treatment]:
    return [each for each in rules.treatments.values() if each.drug_class == "fluid"]


def _left(asked: Question) -> int | None:
    """Whole boluses left: the count less what the total has used up, in boluses of the single most."""
    count, most = asked.limits.count, asked.limits.exact("most")
    if count is None or most is None:
        return None
    used = units.number(asked.used, "mL") / units.number(most, "mL") if asked.used is not None else 0
    return max(0, int(count.value - used))
