"""What a check can find: each finding with its code, its level, its words and its source."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from dosing.ground.facts import Amount

LEVELS = ("within", "caution", "needs_order", "over_hard_limit")
BEYOND = ("needs_order", "over_hard_limit")  # a crew's standing limits
PASSING = ("too_soon", "no_pressure_since_last_dose", "pressure_unknown")  # waiting or measuring takes them away
AGAINST = ("signs_missing", "pressure_low")  # the sign for a treatment is absent, or one against it is there
_NEEDS_ORDER = frozenset(
    {"above_most", "too_soon", "total_reached", "count_reached", "weight_unknown", "crackles", "fluid_restricted"}
    | {"age_not_covered", "allergy", "order_not_read_back", "no_pressure_since_last_dose", "well_above_goal"}
    | {"starts_by_order", "pressure_unknown", "pressure_low", "onset_unknown", "care_limits", "refuses_blood", "leap"}
    | {"too_fast", "weight_unlikely"}
)
_OVER_HARD = frozenset({"above_hard_limit", "route_not_allowed", "wrong_stock", "window_closed"}) | {
    "contraindicated",
    "phase",
}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing a person must see before the dose: contract, "findings"."""

    code: str
    text: str
    source: str
    limit: Amount | None = None
    level: str = ""

    def as_dict(self) -> dict[str, object]:
        """The finding as the API answers it."""
        limit = None if self.limit is None else amount_dict(self.limit)
        return {"code": self.code, "level": self.level, "text": self.text, "limit": limit, "source": self.source}


def amount_dict(amount: Amount) -> dict[str, object]:
    """An amount as plain values; whole numbers stay whole."""
    value = amount.value
    whole = value == int(value) and abs(value) < 2**53  # beyond it canonical JSON knows no whole number
    return {"value": int(value) if whole else value, "unit": amount.unit}


def level_of(code: str) -> str:
    """The level that the contract gives a code."""
    if code in _OVER_HARD:
        return "over_hard_limit"
    return "needs_order" if code in _NEEDS_ORDER else "caution"


def worst(findings: Iterable[Finding]) -> str:
    """The verdict: the worst level among the findings."""
    return LEVELS[max((LEVELS.index(finding.level) for finding in findings), default=0)]
