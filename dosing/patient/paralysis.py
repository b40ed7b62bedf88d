"""Paralysis by a muscle relaxant: whoever cannot move shows neither that they are awake nor that they are in pain."""

from __future__ import annotations

from datetime import datetime, timedelta

from dosing.ground.airways import airway_secured
from dosing.ground.facts import Dose, Facts
from dosing.rules.rule_set import RuleSet

RELAXANT = "sedative_first"  # the flag of what paralyzes


def wears_off_at(dose: Dose, rules: RuleSet) -> datetime | None:
    """Until when a relaxant may act at most; None for all else, and where the rules do not say how long."""
    treatment = rules.treatments.get(dose.treatment)
    if treatment is None or treatment.lasts is None or RELAXANT not in treatment.flags:
        return None
    return dose.given_at + timedelta(minutes=treatment.lasts.most)


def relaxed_by(facts: Facts, rules: RuleSet, at: datetime) -> Dose | None:
    """The relaxant that acts longest of those that may act at a moment."""
    acting = {
        end: dose for dose in facts.doses if dose.given_at <= at and (end := wears_off_at(dose, rules)) and end > at
    }
    return acting[max(acting)] if acting else None


def says_nothing(facts: Facts, rules: RuleSet) -> bool:
    """Whether the newest alertness alarms nobody: a tube guards the airway, or a relaxant acted when it was taken.

    A low score is what was wanted then, and an alarm of it would hide others. A sedative alone is no reason: without a
    tube, that somebody is unresponsive after it is the very danger.
    """
    told = max((each.at for each in facts.airways), default=None)
    if told is not None and airway_secured(facts.airways, told):
        return True
    taken = [facts.latest[name].taken_at for name in ("gcs", "avpu") if name in facts.latest]
    return bool(taken) and relaxed_by(facts, rules, max(taken)) is not None
