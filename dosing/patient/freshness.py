"""How long a pressure counts as the state now: shorter where it is low or unknown, and after a pressor.

What was measured before the pulse was lost or came back never does.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec.structs import replace

from dosing.ground.facts import Dose, Facts
from dosing.ground.phases import present_since
from dosing.rules.rule_set import RuleSet

UNSTABLE = frozenset({"critical", "below_goal", "unknown"})


def as_now(facts: Facts) -> Facts:
    """The case with what was measured since the pulse is there, or gone, as it is now."""
    since = present_since(facts.phases)
    if since is None:
        return facts
    return replace(
        facts,
        readings=tuple(each for each in facts.readings if each.taken_at >= since),
        latest={name: each for name, each in facts.latest.items() if each.taken_at >= since},
    )


def fresh_min(taken_at: datetime, state: str, facts: Facts, rules: RuleSet) -> float:
    """Minutes after which a pressure taken then and judged so is the last one, no more: the rule set's ``stale_min``.

    ``stale_pressor_min`` where the patient is unstable, a pressor runs, or one was given since or shortly before; none
    where it is from before the pulse was lost or came back.
    """
    rule, present = rules.pressure, present_since(facts.phases)
    if present is not None and taken_at < present:
        return 0
    since = taken_at - timedelta(minutes=rule.stale_min)
    acting = any(_pressor(dose, rules) and (_runs(dose) or _last(dose) >= since) for dose in facts.doses)
    return rule.stale_pressor_min if state in UNSTABLE or acting else rule.stale_min


def _pressor(dose: Dose, rules: RuleSet) -> bool:
    treatment = rules.treatments.get(dose.treatment)
    return treatment is not None and treatment.drug_class == "pressor"


def _runs(dose: Dose) -> bool:
    return dose.status == "running" and dose.ended_at is None


def _last(dose: Dose) -> datetime:
    return max(filter(None, (dose.given_at, dose.changed_at, dose.ended_at)))
