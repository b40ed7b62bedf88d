"""What in a case asks for a person now, and when time alone could change that answer.

The same facts always give the same causes: nothing is remembered between two looks. A text is stored once, when the
cause is raised, so none holds a number that goes on changing.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from dosing.ground.facts import Facts
from dosing.ground.language import gettext as _
from dosing.ground.phases import has_pulse
from dosing.held import ledger
from dosing.held.supply import Supply, supplies
from dosing.patient.freshness import as_now
from dosing.rules.rule_set import RuleSet
from dosing.watch.contact import contact
from dosing.watch.control import control, moved
from dosing.watch.countersigns import countersigns
from dosing.watch.fluid import crackles_on_fluid
from dosing.watch.high_pressure import high_pressure
from dosing.watch.look import HIGH, MEDIUM, Cause, Look, Watched, clock
from dosing.watch.missing import reassessments
from dosing.watch.no_vitals import no_vitals
from dosing.watch.orders import watch_order
from dosing.watch.pressor import RATES, Seen, after_pressor
from dosing.watch.pressure import LowAgain, LowPressure, back_too_soon, falling_since, low_pressure
from dosing.watch.questions import waits
from dosing.watch.sedation import no_sedation
from dosing.watch.vital_signs import VitalSign, vital_signs

__all__ = ["Cause", "LowAgain", "Watched", "low_again", "watch"]


def watch(facts: Facts, rules: RuleSet, now: datetime) -> Watched:
    """The causes that stand at ``now``.

    A case that is handed over or closed raises nothing any more, but that a voice order waits to be countersigned; its
    orders still expire, and what was overdue when it ended is noted, however late that is told. Without a pulse no
    pressure, vital sign or missing reading raises anything; once it is back, what is measured from then on does.
    """
    look = Look(facts, rules, now)
    for order in facts.orders:
        watch_order(look, order)
    countersigns(look)
    if facts.state == "open":
        _running_out(look)
        if has_pulse(facts.phases):
            _measured(look, as_now(facts))
            reassessments(look)
        contact(look)
        for each in facts.waiting:
            waits(look, each)
        control(look)
        moved(look)
    elif facts.ended_at is not None and has_pulse(facts.phases):
        as_it_ended = Look(facts, rules, min(now, facts.ended_at))
        reassessments(as_it_ended)
        look.states |= {state: as_it_ended.states[state] for state in ("overdue", "unknown")}
    return Watched(
        causes=tuple(look.causes),
        lasting=tuple(look.lasting),
        next_at=min(look.changes, default=None),
        overdue=tuple(look.states["overdue"]),
        unknown=tuple(look.states["unknown"]),
        expired=tuple(look.states["expired"]),
    )


def low_again(facts: Facts, rules: RuleSet) -> LowAgain | None:
    """A low pressure that is back too soon to raise an alert, while the patient has a pulse and the case is open."""
    watched = facts.state == "open" and has_pulse(facts.phases)
    return back_too_soon(as_now(facts), rules) if watched else None


def _measured(look: Look, facts: Facts) -> None:
    low = low_pressure(facts, look.rules, look.now)
    if low and low.again:
        look.passed(low.again.alarm_from)  # it is raised then, whether somebody enters anything or not
    _low_pressure(look, facts, low)
    _seen(look, facts)
    crackles_on_fluid(look, facts)
    no_vitals(look, facts, low=low is not None and bool(low.since or low.again))
    no_sedation(look, facts)


def _low_pressure(look: Look, facts: Facts, low: LowPressure | None) -> None:
    """One alert for one pressure: what alarms as low needs no forecast. An open alert lasts while it is low at all."""
    if low is not None:
        priority = HIGH if low.critical else MEDIUM
        told = Cause("low_pressure", "pressure", priority, low.text, low.since or look.now)
        (look.causes if low.since else look.lasting).append(told)
    if low is None or not low.since:
        since = falling_since(facts, look.rules)
        if since is not None:
            look.stands("falling", "pressure", MEDIUM, _("MAP falling toward the goal"), since)


def _seen(look: Look, facts: Facts) -> None:
    """What is dangerous whatever was given, and what a pressor may have done; one reading, one alarm.

    After a pressor always high, as the reading after one is when it is missing: the next push may be a minute away.
    """
    signs, after = _one_each(vital_signs(facts, look.rules), after_pressor(facts, look.rules))
    high = high_pressure(facts, look.rules)
    if high is not None and high.was_danger:
        after = [seen for seen in after if seen.cause != "systolic"]
    if high is not None and not any(seen.cause == "systolic" for seen in after):
        look.stands("high_pressure", "pressure", HIGH if high.danger else MEDIUM, high.text, high.since)
    for sign in signs:
        look.stands(sign.kind, sign.cause, HIGH if sign.danger else MEDIUM, sign.text, sign.since)
    for seen in after:
        look.stands("after_pressor", seen.cause, HIGH, seen.text, seen.since)


def _one_each(signs: list[VitalSign], after: list[Seen]) -> tuple[list[VitalSign], list[Seen]]:
    """A heart rate is told once: a rhythm speaks for it, then a rate that was in danger, then one after a pressor."""
    rate = next((sign for sign in signs if sign.cause == "hr"), None)
    if rate is None or not any(seen.cause in (*RATES, "rhythm") for seen in after):
        return signs, after
    if rate.was_danger and not any(seen.cause == "rhythm" for seen in after):
        return signs, [seen for seen in after if seen.cause not in RATES]
    return [sign for sign in signs if sign is not rate], after


def _running_out(look: Look) -> None:
    """What is in hand of a pressor that runs, or is pushed at a rate, will not last to the arrival."""
    held = (look.rules.treatments.get(each.treatment or "") for each in look.facts.containers)
    if not any(each is not None and each.drug_class == "pressor" for each in held):
        return
    for supply in supplies(ledger.holdings(look.facts, look.rules), look.rules):
        used = supply.in_use_to is None or not look.passed(supply.in_use_to)
        if used and supply.treatment.drug_class == "pressor":
            _lasts(look, supply)


def _lasts(look: Look, supply: Supply) -> None:
    """Before the arrival, where that is known and lies ahead; else once it is to be empty within minutes.

    High once it is nearly empty: then somebody must act now.
    """
    eta, soon = look.facts.eta, supply.lasts_to - timedelta(minutes=look.rules.ledger.running_out_min)
    known = eta is not None and not look.passed(eta)
    if supply.lasts_to < eta if known and eta else look.passed(soon):
        arrival = _("arrival {eta}", eta=clock(eta)) if known and eta else _("arrival time unknown")
        text = _(
            "{treatment} lasts to {lasts_to}, {arrival}",
            treatment=supply.treatment.title,
            lasts_to=clock(supply.lasts_to),
            arrival=arrival,
        )
        since = min(look.now, supply.since if known else soon)
        nearly = look.passed(supply.lasts_to - timedelta(minutes=look.rules.watch.running_out_high_min))
        look.stands("pressor_running_out", supply.treatment.slug, HIGH if nearly else MEDIUM, text, since)
