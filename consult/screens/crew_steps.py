"""The next rate of what is stepped up by order, with what the rules would flag and the pressure that comes first."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from consult.access import Actor
from consult.actions import checks
from consult.clock import stamp, when
from consult.models import Case
from consult.render.running import steps
from dosing.ground.facts import Amount

Card = Mapping[str, Any]
MEASURED = ("no_pressure_since_last_dose", "pressure_unknown")  # what a pressure takes away


def next_steps(actor: Actor, case: Case, card: Card, now: datetime) -> list[dict[str, Any]]:
    """Where each order stands by which the crew steps a rate up; ``pressure_at``: from when a pressure comes first."""
    return [_with_findings(actor, case, card, step, now) for step in steps(card)]


def _with_findings(actor: Actor, case: Case, card: Card, step: dict[str, Any], now: datetime) -> dict[str, Any]:
    at = max(now, when(step["next_at"])) if step["next_at"] else now
    found = checks.next_rate(actor, case, step["order"], Amount(**step["next"]), at).findings if step["next"] else ()
    measure = any(each.code in MEASURED for each in found)
    return {
        **step,
        "findings": [each for each in found if each.code not in MEASURED],
        "pressure_at": stamp(at) if measure else _due_at(card, step, now),
    }


def _due_at(card: Card, step: Card, now: datetime) -> str:
    """When the reading after its last rate is due, where it needs a pressure; ``""`` where none stands open."""
    due = [each for each in card.get("reassessments") or () if each["intervention"] == step["intervention"]]
    wanted = [
        now if each["state"] == "overdue" else when(each["due_at"]) for each in due if "pressure" in each["needs"]
    ]
    return stamp(min(wanted)) if wanted else ""
