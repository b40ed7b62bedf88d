"""The reading that a treatment asks for: when it is due, and which readings are it."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from uuid import UUID, uuid5

from msgspec.structs import replace

from dosing.ground.facts import Dose, Facts, Reading, Reassessment
from dosing.ground.language import gettext as _
from dosing.ground.phases import pulse_again
from dosing.patient.pressure import holds_pressure
from dosing.rules.rule_set import ReassessmentRule, RuleSet

REASSESSMENTS = UUID("6f0a3c52-8d3b-5c1e-9a47-2f1d7be0c4a8")
JUST_AFTER = timedelta(seconds=1)  # the pressure that was taken is not the next one
FIRST_SET = ("pressure", "heart_rate", "spo2")  # what a patient who has a pulse again is asked for first
PULSE_BACK = _("the return of pulse")
PRESSURES = ("sbp", "map_reported", "bp_method")

NEEDS: Mapping[str, Callable[[Reading], bool]] = {
    "pressure": holds_pressure,
    "pressure_or_pulses": lambda reading: holds_pressure(reading) or reading.pulses is not None,
    "alertness": lambda reading: reading.avpu is not None or reading.gcs is not None,
    "glucose": lambda reading: reading.glucose_mg_dl is not None or reading.glucose_flag is not None,
    "heart_rate": lambda reading: reading.hr is not None,
    "hr": lambda reading: reading.hr is not None,
    "lungs": lambda reading: reading.lungs is not None,
    "rr": lambda reading: reading.rr is not None,
    "spo2": lambda reading: reading.spo2 is not None,
    "temperature": lambda reading: reading.temp_c is not None,
}


def opened_by(dose: Dose, rules: RuleSet, opened_at: datetime | None = None) -> Reassessment | None:
    """The reassessment that a dose opens, or None: nothing is asked after an unknown drug or what only others did.

    A pressor that others started and that runs on asks too, from when the case was opened. Its id follows from the
    intervention's, so a changed rate or an end opens the same one with new times.
    """
    if dose.treatment not in rules.treatments or (others_only(dose) and not is_drip(dose, rules)):
        return None
    treatment = rules.treatment(dose.treatment, dose.indication)
    rule = treatment.reassessment
    if rule is None:
        return None
    counts_from, due_at = _times(dose, rule, is_drip(dose, rules))
    if others_only(dose) and opened_at is not None:
        due_at = max(due_at, opened_at + timedelta(minutes=rule.due_min))
    return Reassessment(
        id=str(uuid5(REASSESSMENTS, dose.id)),
        intervention=dose.id,
        because=treatment.title,
        counts_from=counts_from,
        needs=rule.needs,
        also=rule.also,
        due_at=due_at,
        overdue_at=due_at + timedelta(seconds=rule.grace_s),
    )


def due_while_it_runs(dose: Dose, facts: Facts, rules: RuleSet) -> Reassessment | None:
    """What a pressor that runs asks for now: its first pressure, after that the next one, minutes after the newest.

    None where it runs no more, or asks for nothing.
    """
    first = opened_by(dose, rules, facts.opened_at) if is_running_pressor(dose, rules) else None
    newest = _newest_pressure(facts) if first else None
    if first is None or newest is None or newest < first.counts_from:
        return first
    due_at, grace = newest + timedelta(minutes=rules.watch.pressor_again_min), first.overdue_at - first.due_at
    counts_from = newest + JUST_AFTER
    return replace(first, needs=("pressure",), counts_from=counts_from, due_at=due_at, overdue_at=due_at + grace)


def after_arrest(facts: Facts, rules: RuleSet) -> Reassessment | None:
    """The first set of vitals after the pulse came back, until readings since then hold what it needs; else None.

    It follows from the phases and the readings, so whatever is corrected of either, it is asked for or not.
    """
    back = pulse_again(facts.phases)
    if back is None:
        return None
    due_at = back.at + timedelta(minutes=rules.watch.pulse_back_set_min)
    asked = Reassessment(
        id=str(uuid5(REASSESSMENTS, back.id)),
        intervention=back.id,
        because=PULSE_BACK,
        counts_from=back.at,
        needs=FIRST_SET,
        also=("alertness",),
        due_at=due_at,
        overdue_at=due_at + timedelta(seconds=rules.watch.pulse_back_grace_s),
    )
    return None if completed_by(asked, facts.readings) else asked


def after_pause(asked: Reassessment, facts: Facts, rules: RuleSet) -> Reassessment:
    """What is asked for, as it stands now: what dates from before an arrest is due with the first set after it."""
    back, watch = pulse_again(facts.phases), rules.watch
    if back is None or asked.counts_from >= back.at:
        return asked
    due_at = max(asked.due_at, back.at + timedelta(minutes=watch.pulse_back_set_min))
    return replace(
        asked, due_at=due_at, overdue_at=max(asked.overdue_at, due_at + timedelta(seconds=watch.pulse_back_grace_s))
    )


def _newest_pressure(facts: Facts) -> datetime | None:
    """When a pressure was last taken, be it that none could be obtained; of a case that has ended, until then."""
    if facts.ended_at is not None:
        until = (each.taken_at for each in facts.readings if each.taken_at <= facts.ended_at and holds_pressure(each))
        return max(until, default=None)
    known = (facts.latest[name] for name in PRESSURES if name in facts.latest)
    return max((each.taken_at for each in known if each.value is not None), default=None)


def is_drip(dose: Dose, rules: RuleSet) -> bool:
    """Whether it is a pressor that runs, or ran until it was held or stopped here."""
    treatment = rules.treatments.get(dose.treatment)
    running = dose.goes_on or dose.ended_at is not None
    return running and treatment is not None and (treatment.drug_class, treatment.form) == ("pressor", "infusion")


def is_running_pressor(dose: Dose, rules: RuleSet) -> bool:
    """Whether it is a pressor that runs now: it asks for one pressure after the other."""
    return dose.status == "running" and dose.ended_at is None and is_drip(dose, rules)


def is_renewed(asked: Reassessment, dose: Dose, rules: RuleSet) -> bool:
    """Whether it asks for a further pressure while a pressor runs, not for the first after its start or new rate."""
    first = opened_by(dose, rules)
    return first is not None and is_running_pressor(dose, rules) and asked.counts_from > first.counts_from


def missing(asked: Reassessment, readings: Sequence[Reading]) -> list[str]:
    """What of that which is needed no reading has held yet, in the order in which it is asked for."""
    counting = [reading for reading in readings if reading.taken_at >= asked.counts_from]
    return [need for need in asked.needs if not any(NEEDS[need](reading) for reading in counting)]


def completed_by(reassessment: Reassessment, readings: Sequence[Reading]) -> datetime | None:
    """When the readings, oldest first, held together all that is needed; None while something is missing."""
    missing = set(reassessment.needs)
    for reading in readings:
        if reading.taken_at < reassessment.counts_from:
            continue
        missing -= {need for need in missing if NEEDS[need](reading)}
        if not missing:
            return reading.taken_at
    return None


def others_only(dose: Dose) -> bool:
    """Whether a dose was given by others before, and what runs of it runs as they left it."""
    return dose.prior and dose.changed_at is None


def started_at(dose: Dose) -> datetime:
    """When the dose, or the rate in force, began; of what is held the last rate before."""
    if dose.status == "held":
        return max((dose.given_at, *dose.set_at))
    return max(dose.given_at, dose.changed_at or dose.given_at)


def end_of(dose: Dose) -> datetime:
    """When a bolus ended, or should end: its recorded end, its stated time, else the moment it was given."""
    if dose.ended_at is not None:
        return dose.ended_at
    return dose.given_at + timedelta(minutes=dose.over_min or 0)


def is_pressor(dose: Dose, rules: RuleSet) -> bool:
    """Whether a dose is of a pressor."""
    treatment = rules.treatments.get(dose.treatment)
    return treatment is not None and treatment.drug_class == "pressor"


def pressors(doses: Iterable[Dose], rules: RuleSet) -> list[Dose]:
    """The pressors that were given here, earliest first."""
    here = (dose for dose in doses if not dose.prior and is_pressor(dose, rules))
    return sorted(here, key=lambda dose: dose.given_at)


def next_pressor(dose: Dose, given: Sequence[Dose]) -> Dose | None:
    """The first of these pressors, earliest first, that was given after a dose, or after its new rate."""
    following = bisect_right(given, started_at(dose), key=lambda each: each.given_at)
    return given[following] if following < len(given) else None


def _times(dose: Dose, rule: ReassessmentRule, drip: bool) -> tuple[datetime, datetime]:
    """From when a reading counts, and when it is due; that a pressor was held or stopped is a new rate too."""
    if not rule.counts_from_end:
        held_at = dose.changed_at if dose.status == "held" else None
        start = (dose.ended_at or held_at if drip else None) or started_at(dose)
        return start + timedelta(minutes=rule.counts_from_min), start + timedelta(minutes=rule.due_min)
    latest = None if rule.max_min is None else dose.given_at + timedelta(minutes=rule.max_min)
    if latest is not None and dose.ended_at is None and dose.over_min is None:
        return latest, latest
    end = end_of(dose)
    due = end + timedelta(minutes=rule.due_min)
    if latest is not None:
        due = min(due, latest)
    return min(end, due), due
