"""A pressure that is too old: nobody knows how the patient is now, though the unit is heard."""

from __future__ import annotations

from datetime import timedelta

from dosing.ground.facts import Facts
from dosing.ground.language import gettext as _
from dosing.patient.pressure import holds_pressure
from dosing.watch.contact import lost_contact_at, silent_until
from dosing.watch.look import MEDIUM, Look, clock


def no_vitals(look: Look, facts: Facts, *, low: bool) -> None:
    """No pressure for so many minutes, fewer while it is `low`, and the grace in which one that was taken is sent.

    Not before the first, and not while something else asks for it: a reading after a dose, a unit that is silent or
    has said that it will be.
    """
    newest = next((each for each in reversed(facts.readings) if holds_pressure(each)), None)
    if newest is None or any("pressure" in each.needs for each in facts.reassessments):
        return
    rule = look.rules.watch
    minutes = rule.no_pressure_low_min if low else rule.no_pressure_min
    late_at = newest.taken_at + timedelta(minutes=minutes, seconds=rule.no_pressure_grace_s)
    if look.passed(late_at) and not _silent(look):
        text = _(
            "No pressure since {taken_at}{when_low}",
            taken_at=clock(newest.taken_at),
            when_low=_(", when it was low") if low else "",
        )
        look.stands("no_vitals", "pressure", MEDIUM, text, late_at)


def _silent(look: Look) -> bool:
    announced = silent_until(look)
    return lost_contact_at(look) <= look.now or (announced is not None and announced > look.now)
