"""Findings about the pressure: whether it is known, recent, too high for a pressor or too low for a sedative.

Alerts keep these texts, so none says an age: it would stand still.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta

from dosing.check.case import Question
from dosing.check.findings import Finding
from dosing.ground import text
from dosing.ground.exact import exact, plain
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.phases import PULSELESS
from dosing.patient.pressure import holds_pressure
from dosing.patient.pressure_now import PressureNow
from dosing.patient.reassess import others_only, started_at

Findings = Iterator[Finding]
LOWERING = ("sedative", "opioid")
LOWERS_PRESSURE = ("vasodilator", *LOWERING)
NEED_PRESSURE = ("pressor", *LOWERS_PRESSURE)
CENTRAL = ("carotid", "femoral")


def _known(question: Question) -> Findings:
    """Nothing of these classes without a recent pressure; of the others a pressure that is old is told."""
    rule, now = question.bedside.rules.pressure, question.bedside.pressure
    needed = question.treatment.drug_class in NEED_PRESSURE
    if not needed and question.bedside.person.phase in PULSELESS:
        return  # without a pulse there is none to be had
    name, code = ("stale_pressor_min", "pressure_unknown") if needed else ("stale_min", "pressure_stale")
    fresh: float = getattr(rule, name)
    limit, source = Amount(fresh, "min"), rule.sources[name]
    if now is None:
        yield question.find(code, _("no pressure has been recorded"), source, limit)
    elif question.bedside.at - now.taken_at > timedelta(minutes=fresh):
        words = _(
            "last pressure ({now}) is older than {fresh}: recheck first", now=now.text, fresh=text.minutes_text(fresh)
        )
        yield question.find(code, words, source, limit)
    elif now.before_pulse:
        words = _("last pressure ({now}) is from before the pulse came back: recheck first", now=now.text)
        yield question.find(code, words, source, limit)
    elif needed:
        yield from _measured(question, now)


def _measured(question: Question, now: PressureNow) -> Findings:
    """A recent pressure that is not known, or in part: by a central pulse alone a pressor may be given."""
    rule, drug_class = question.bedside.rules.pressure, question.treatment.drug_class
    lowers = drug_class in LOWERS_PRESSURE
    if now.unobtainable and now.reading.pulses == "none" and not lowers and question.treatment.form == "push":
        words = _("{now}: cardiac arrest has its own dose, not a push dose", now=now.text)
        yield question.find("phase", words, rule.sources["stale_pressor_min"])
    elif now.unobtainable:
        central = not lowers and now.reading.pulses in CENTRAL
        level = "caution" if central else ""
        yield question.find("pressure_unknown", now.text, rule.sources["stale_pressor_min"], level=level)
    elif drug_class in LOWERING and now.low is None:
        # The systolic is known and not low: the crew is told what is not known, an order would not measure it either.
        words = _("systolic {sbp}, MAP unknown: it may be low; watch it", sbp=plain(exact(now.reading.sbp or 0)))
        yield question.find("pressure_unknown", words, rule.sources["sedation_map"], level="caution")


def _low(question: Question) -> Findings:
    """Whatever goal is permitted: what lowers the pressure is not given on a low one without an order."""
    now, treatment = question.bedside.pressure, question.treatment
    if now is None or not now.below or treatment.drug_class not in LOWERING:
        return
    caution = "pressure_low_is_caution" in treatment.flags
    told = _(" and ").join(
        _("{pressure} (under {floor})", pressure=each.text(), floor=plain(exact(each.floor))) for each in now.below
    )
    if caution:
        words = _("pressure low, {told}: {treatment} can lower it further", told=told, treatment=treatment.title)
    else:
        words = _("pressure low, {told}: {treatment} needs an order", told=told, treatment=treatment.title)
    worst = now.below[0]
    limit = Amount(worst.floor, "mmHg")
    yield question.find("pressure_low", words, worst.source, limit, "caution" if caution else "")


def _above_goal(question: Question) -> Findings:
    now, rule = question.bedside.pressure, question.bedside.rules.pressure
    if "pressure_above_goal" not in question.treatment.flags or now is None or now.above is None:
        return
    if now.above >= rule.well_above:
        words = _("{now}: {above} mmHg above goal", now=now.text, above=text.number_text(now.above))
        yield question.find("well_above_goal", words, rule.sources["well_above"])
    elif now.above >= 0:
        yield question.find("pressure_above_goal", _("{now}: already at or above goal", now=now.text))


def lower_rate(question: Question) -> Findings:
    """A lower rate of a pressor while the pressure is below its goal: what holds it up would be less."""
    now = question.bedside.pressure
    if question.treatment.drug_class == "pressor" and now is not None and now.below_goal:
        yield question.find("pressure_below_goal", _("{now}: below goal, and this rate is lower", now=now.text))


def _too_high(question: Question) -> Findings:
    """Fluid or blood where the pressure is too high already: for the age, in pregnancy, with a head injury."""
    bedside = question.bedside
    if question.treatment.drug_class not in ("fluid", "blood"):
        return
    patient, days = bedside.facts.patient, bedside.person.days
    rules = bedside.rules.watch.high_pressure
    fitting = [each for each in rules if each.fits(days, patient.pregnancy_weeks, patient.injuries)]
    for measure, told in (("sbp", _("systolic")), ("dbp", _("diastolic"))):
        stated = (getattr(each, f"{level}_{measure}") for each in fitting for level in ("warning", "danger"))
        lowest = min(filter(None, stated), key=lambda figure: float(figure.value), default=None)
        value = bedside.value(measure)
        if lowest is not None and value is not None and value >= lowest.value:
            words = _(
                "{measure} {value}, high at {lowest} or more: more volume raises it",
                measure=told,
                value=plain(exact(value)),
                lowest=plain(exact(lowest.value)),
            )
            yield question.find("pressure_above_goal", words, lowest.source, Amount(lowest.value, "mmHg"))
            return


def _since_last_dose(question: Question) -> Findings:
    """A pressure after the newest dose of the class; after a new rate of the very treatment too."""
    bedside = question.bedside
    if "no_pressure_since_last_dose" not in question.treatment.flags:
        return
    doses = [dose for dose in question.of_class if dose.given_at <= bedside.at and not others_only(dose)]
    changes = [dose.given_at for dose in doses]
    for dose in doses:
        if dose.treatment == question.treatment.slug:
            changes += [at for at in (started_at(dose), *dose.set_at) if at <= bedside.at]
    if not changes:
        return
    since = max(changes)
    between = (each for each in bedside.facts.readings if since < each.taken_at <= bedside.at)
    if not any(map(holds_pressure, between)):
        yield question.find("no_pressure_since_last_dose", _("no pressure since the last dose"))


def low_is_told(question: Question) -> Findings:
    """Where nothing may hold the treatment back, that the pressure is low is still told."""
    if question.never_gated and "pressure_low_is_caution" in question.treatment.flags:
        yield from _low(question)


CHECKS: tuple[Callable[[Question], Findings], ...] = (_known, _low, _above_goal, _too_high, _since_last_dose)
