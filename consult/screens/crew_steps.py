"""The next rate of what is stepped up by order, with what the rules would flag and the pressure that comes first."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from consult import queries
from consult.access import Actor
from consult.actions import checks
from consult.clock import stamp, when
from consult.models import Case
from consult.render.running import restarted, steps
from consult.screens.crew_running import HELD
from dosing.ground.facts import Amount
from dosing.ground.text import amount_text
from dosing.patient.reassess import JUST_AFTER, is_pressor, started_at

Card = Mapping[str, Any]
JUST_NOW = timedelta(minutes=5)  # so long a step is offered to be taken back: our choice
MEASURED = ("no_pressure_since_last_dose", "pressure_unknown")  # what a pressure takes away


def next_steps(actor: Actor, case: Case, card: Card, now: datetime) -> list[dict[str, Any]]:
    """Where each order stands by which the crew steps a rate up; ``pressure_at``: from when a pressure comes first.

    ``reads_from``: from when on a pressure frees the step, for the phone that has it before the server does.
    """
    return [_with_findings(actor, case, card, step, now) for step in steps(card)]


def _with_findings(actor: Actor, case: Case, card: Card, step: dict[str, Any], now: datetime) -> dict[str, Any]:
    at = max(now, when(step["next_at"])) if step["next_at"] else now
    found = checks.next_rate(actor, case, step["order"], Amount(**step["next"]), at).findings if step["next"] else ()
    measure = any(each.code in MEASURED for each in found)
    return {
        **step,
        **_back(step, now),
        "findings": [each for each in found if each.code not in MEASURED],
        "goal_floor": f"{step['goal']['floor']:g}",
        "reads_from": _reads_from(case, card, step),
        "pressure_at": stamp(at) if measure else _due_at(card, step, now),
    }


def _back(step: Card, now: datetime) -> dict[str, Any]:
    """What was before a rate that was set just now, for who pressed and set nothing: the rate before, or the pause."""
    rates = step["dose"].get("rates") or []
    if len(rates) < 2 or when(rates[-1]["at"]) < now - JUST_NOW or step["held"]:
        return {}
    if restarted(step["dose"]):
        return {"set_at": rates[-1]["at"], "back": HELD, "back_key": HELD}
    before = Amount(**rates[-2]["amount"])
    return {"set_at": rates[-1]["at"], "back": amount_text(before), "back_key": f"{before.value:g} {before.unit}"}


def _reads_from(case: Case, card: Card, step: Card) -> str:
    """From when on a pressure counts: after each pressor and rate so far, and as the reassessment of this one says."""
    rules = queries.rules_of(case)
    own = step["intervention"]
    given = (dose for dose in queries.facts(case).doses if dose.id == own or is_pressor(dose, rules))
    begun = [started_at(dose) + JUST_AFTER for dose in given]
    return stamp(max([*begun, *(when(each["counts_from"]) for each in _asked(card, step))]))


def _asked(card: Card, step: Card) -> list[Card]:
    """What is asked for after the newest rate of what this order steps up, where that is a pressure."""
    due = [each for each in card.get("reassessments") or () if each["intervention"] == step["intervention"]]
    return [each for each in due if "pressure" in each["needs"]]


def _due_at(card: Card, step: Card, now: datetime) -> str:
    """When the reading after its last rate is due, where it needs a pressure; ``""`` where none stands open."""
    wanted = [now if each["state"] == "overdue" else when(each["due_at"]) for each in _asked(card, step)]
    return stamp(min(wanted)) if wanted else ""
