"""A patient whom a relaxant paralyzes and who got nothing against being awake or in pain for too long."""

from __future__ import annotations

from datetime import datetime, timedelta

from dosing.check.at_bedside import Bedside, bedside
from dosing.ground.facts import Dose, Facts
from dosing.ground.language import gettext as _
from dosing.patient.paralysis import relaxed_by, wears_off_at
from dosing.watch.look import HIGH, Look, clock

CALMS = ("sedative", "opioid")


def no_sedation(look: Look, facts: Facts) -> None:
    """No sedative or opioid for so many minutes while a relaxant may act, whether a tube is told or not.

    What others gave counts too, and by its name what the rules lack. While one of them runs nothing is missing.
    """
    relaxant, rule = relaxed_by(facts, look.rules, look.now), look.rules.watch
    if relaxant is None:
        return
    there = bedside(facts, look.rules, look.now)
    calmed = [dose for dose in there.doses if _class_of(there, dose) in CALMS]
    if any(dose.status == "running" for dose in calmed):
        return
    newest = max(map(_until, calmed), default=None)
    due_at = max(relaxant.given_at, newest + timedelta(minutes=rule.no_sedation_min)) if newest else relaxant.given_at
    late_at, end = due_at + timedelta(seconds=rule.no_sedation_grace_s), wears_off_at(relaxant, look.rules)
    if end is not None and late_at < end and look.passed(late_at):
        look.passed(end)
        look.stands("no_sedation", "sedation", HIGH, _words(look, relaxant, newest), late_at)


def _class_of(there: Bedside, dose: Dose) -> str:
    known = there.rules.treatments.get(dose.treatment)
    return known.drug_class if known else there.class_of(dose)


def _until(dose: Dose) -> datetime:
    """When it was given, or its infusion was held or ended."""
    return dose.ended_at or (dose.status == "held" and dose.changed_at) or dose.given_at


def _words(look: Look, relaxant: Dose, newest: datetime | None) -> str:
    told = {"relaxant": look.rules.treatments[relaxant.treatment].title, "given_at": clock(relaxant.given_at)}
    if newest is None:
        return _("No sedative or opioid given, paralyzed by {relaxant} {given_at}: perhaps awake", **told)
    return _(
        "No sedative or opioid since {newest}, paralyzed by {relaxant} {given_at}: perhaps awake",
        newest=clock(newest),
        **told,
    )
