"""The reading that a treatment asks for: when it is due, and which readings are it."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from uuid import UUID, uuid5

from dosing.ground.facts import Dose, Reading, Reassessment
from dosing.patient.pressure import holds_pressure
from dosing.rules.rule_set import ReassessmentRule, RuleSet

REASSESSMENTS = UUID("6f0a3c52-8d3b-5c1e-9a47-2f1d7be0c4a8")

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


def opened_by(dose: Dose, rules: RuleSet) -> Reassessment | None:
    """The reassessment that a dose opens, or None: nothing is asked after an unknown drug or what only others did.

    Its id follows from the intervention's, so a changed rate or an end opens the same one with new times.
    """
    if others_only(dose) or dose.treatment not in rules.treatments:
        return None
    treatment = rules.treatment(dose.treatment, dose.indication)
    rule = treatment.reassessment
    if rule is None:
        return None
    counts_from, due_at = _times(dose, rule)
    return Reassessment(
        id=str(uuid5(REASSESSMENTS, dose.id)),
        intervention=dose.id,
        because=treatment.title,
        counts_from=counts_from,
        needs=rule.needs,
        due_at=due_at,
        overdue_at=due_at + timedelta(seconds=rule.grace_s),
    )


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
    """When the dose, or the rate in force, began."""
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


def _times(dose: Dose, rule: ReassessmentRule) -> tuple[datetime, datetime]:
    """From when a reading counts, and when it is due."""
    if not rule.counts_from_end:
        start = started_at(dose)
        return start + timedelta(minutes=rule.counts_from_min), start + timedelta(minutes=rule.due_min)
    latest = None if rule.max_min is None else dose.given_at + timedelta(minutes=rule.max_min)
    if latest is not None and dose.ended_at is None and dose.over_min is None:
        return latest, latest
    end = end_of(dose)
    due = end + timedelta(minutes=rule.due_min)
    if latest is not None:
        due = min(due, latest)
    return min(end, due), due
