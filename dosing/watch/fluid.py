"""Crackles in the lungs that were not there before fluid was given: what says that it is too much."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import takewhile

from dosing.ground.facts import Dose, Facts, Reading
from dosing.ground.language import gettext as _
from dosing.patient.reassess import end_of
from dosing.rules.rule_set import RuleSet
from dosing.watch.look import HIGH, Look, clock

CRACKLES = "crackles"


def crackles_on_fluid(look: Look, facts: Facts) -> None:
    """New ones within minutes of fluid; they stand until the lungs are heard without, or the fluid is taken back."""
    first = _first_heard(facts)
    if first is None:
        return
    dose = max(_fluid_before(facts, look.rules, first.taken_at), key=lambda each: each.given_at, default=None)
    if dose is not None:
        text = _(
            "New crackles {taken_at}, {fluid} given {given_at}",
            taken_at=clock(first.taken_at),
            fluid=look.rules.treatments[dose.treatment].title,
            given_at=clock(dose.given_at),
        )
        look.stands("crackles_on_fluid", "lungs", HIGH, text, first.taken_at)


def _first_heard(facts: Facts) -> Reading | None:
    """The first set with crackles of those that were heard in a row up to now; None where there are none now."""
    heard = (each for each in reversed(facts.readings) if each.lungs is not None)
    return ([None, *takewhile(lambda each: each.lungs == CRACKLES, heard)])[-1]


def _fluid_before(facts: Facts, rules: RuleSet, at: datetime) -> Iterator[Dose]:
    """The fluid that ran, or had ended, within the window before."""
    since = at - timedelta(minutes=rules.watch.crackles_after_fluid_min)
    for dose in facts.doses:
        treatment = rules.treatments.get(dose.treatment)
        fluid = treatment is not None and treatment.drug_class == "fluid"
        if fluid and not dose.none_went_in and dose.given_at <= at and (dose.goes_on or end_of(dose) >= since):
            yield dose
