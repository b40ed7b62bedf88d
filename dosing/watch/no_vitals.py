"""A pressure that is too old: nobody knows how the patient is now, though the unit is heard."""

from __future__ import annotations

from datetime import datetime, timedelta

from dosing.ground.facts import Facts
from dosing.ground.language import gettext as _
from dosing.patient.pressure import holds_pressure
from dosing.patient.reassess import after_arrest
from dosing.watch.contact import lost_contact_at, silent_until
from dosing.watch.look import MEDIUM, Look, clock


def no_vitals(look: Look, facts: Facts, *, low: bool) -> None:
    """No pressure for so many minutes, fewer while it is `low`, and the grace in which one that was taken is sent.

    Of this patient, whatever else the unit sends; before the first since the case was heard of. Not while something
    else asks for it: a reading after a dose that can be taken by then, the first set after an arrest, a unit that is
    silent or has said that it will be.
    """
    newest = next((each.taken_at for each in reversed(facts.readings) if holds_pressure(each)), None)
    opened = max(facts.opened_at, facts.heard_of_at or facts.opened_at)
    rule = look.rules.watch
    minutes = rule.no_pressure_low_min if low else rule.no_pressure_min
    late_at = (newest or opened) + timedelta(minutes=minutes, seconds=rule.no_pressure_grace_s)
    asked = any("pressure" in each.needs and each.counts_from <= late_at for each in facts.reassessments)
    if asked or after_arrest(facts, look.rules):
        return
    if look.passed(late_at) and not _silent(look):
        look.stands("no_vitals", "pressure", MEDIUM, _since(newest, facts.opened_at, low=low), late_at)


def _since(newest: datetime | None, opened_at: datetime, *, low: bool) -> str:
    if newest is None:
        return _("No pressure yet, case open since {opened_at}", opened_at=clock(opened_at))
    when_low = _(", when it was low") if low else ""
    return _("No pressure since {taken_at}{when_low}", taken_at=clock(newest), when_low=when_low)


def _silent(look: Look) -> bool:
    announced = silent_until(look)
    return lost_contact_at(look) <= look.now or (announced is not None and announced > look.now)
