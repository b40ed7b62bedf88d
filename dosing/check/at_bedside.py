"""The patient at one moment, as the rules see it: what was measured and given up to then, and what runs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from dosing.check.bands import Person
from dosing.ground import units
from dosing.ground.facts import Dose, Facts
from dosing.ground.patient import completed_days, is_adult_for_dosing
from dosing.ground.phases import phase_at
from dosing.patient import growth
from dosing.patient.pressure_now import PressureNow, pressure_at
from dosing.rules.rule_set import RuleSet


@dataclass(frozen=True, kw_only=True)
class Bedside:
    """The patient at one moment; made once and asked about each treatment."""

    facts: Facts
    rules: RuleSet
    at: datetime
    pressure: PressureNow | None
    person: Person

    @cached_property
    def all_doses(self) -> tuple[Dose, ...]:
        """The doses that are kept one by one, by when they were given, those after this moment too."""
        return tuple(sorted(self.facts.doses, key=lambda dose: dose.given_at))

    @cached_property
    def doses(self) -> tuple[Dose, ...]:
        """All that was given up to this moment, oldest first."""
        return tuple(dose for dose in self.all_doses if dose.given_at <= self.at)

    def latest(self, measurement: str) -> object:
        """The newest value of a measurement taken up to this moment, None where there is none."""
        latest = self.facts.latest.get(measurement)
        if latest is None or latest.taken_at <= self.at:
            return None if latest is None else latest.value
        earlier = (getattr(r, measurement, None) for r in reversed(self.facts.readings) if r.taken_at <= self.at)
        return next((value for value in earlier if value is not None), None)

    def value(self, measurement: str) -> float | None:
        """The newest number measured up to this moment, None where there is none."""
        found = self.latest(measurement)
        return found if isinstance(found, (int, float)) else None

    def running(self, dose: Dose) -> bool:
        """Whether an infusion was still running at this moment, or held."""
        return dose.goes_on if dose.ended_at is None else dose.ended_at > self.at

    def runs(self, slug: str) -> bool:
        """Whether an infusion of this treatment was running at this moment."""
        return any(dose.treatment == slug and self.running(dose) for dose in self.doses)


def bedside(facts: Facts, rules: RuleSet, at: datetime) -> Bedside:
    """The patient as the rules see it at ``at``: readings taken later do not count."""
    now = pressure_at(facts, rules, at)
    patient = facts.patient
    person = Person(
        adult=is_adult_for_dosing(patient),
        days=None if patient.age is None else completed_days(patient.age),
        weight=units.body_weight(patient.weight),
        impression=facts.impression,
        pressure_low=None if now is None else now.low,
        bleeding_cause=patient.bleeding_cause,
        heaviest=units.body_weight(growth.heaviest(patient)),
        history=frozenset(patient.history),
        pregnancy_weeks=patient.pregnancy_weeks,
        phase=phase_at(facts.phases, at),
    )
    return Bedside(facts=facts, rules=rules, at=at, pressure=now, person=person)
