"""The patient at one moment, as the rules see it: what was measured and given up to then, and what runs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import inf
from typing import Any, cast

from dosing.check.allergies import Told, class_elsewhere, diseases
from dosing.check.bands import Person
from dosing.ground import units
from dosing.ground.airways import airway_secured
from dosing.ground.facts import Dose, Facts, Latest
from dosing.ground.given_before import GivenBefore
from dosing.ground.once import once
from dosing.ground.patient import completed_days, is_adult_for_dosing
from dosing.ground.phases import phase_at
from dosing.patient import growth
from dosing.patient.pressure_now import PressureNow, pressure_at
from dosing.patient.signs import gcs_total
from dosing.rules.names import class_told, counted_as, named
from dosing.rules.rule_set import RuleSet
from dosing.rules.words import DISEASES, HISTORY


@dataclass(frozen=True, kw_only=True)
class Bedside:
    """The patient at one moment; made once and asked about each treatment."""

    facts: Facts
    rules: RuleSet
    at: datetime
    pressure: PressureNow | None
    person: Person

    @once
    def _by_route(self) -> dict[str, Person]:
        return {}

    def given_by(self, route: str) -> Person:
        """The person as the limits by one route ask about them; made once for all treatments."""
        if route not in self._by_route:
            self._by_route[route] = replace(self.person, route=route)
        return self._by_route[route]

    @once
    def all_doses(self) -> tuple[Dose, ...]:
        """The doses that are kept one by one, by when they were given, those after this moment too."""
        return tuple(sorted(self.facts.doses, key=lambda dose: dose.given_at))

    @once
    def given(self) -> frozenset[str]:
        """Which treatments have been given at all, those given later and those told by a name too."""
        return frozenset(slug for dose in self.facts.doses for slug in self.counts_as(dose))

    def counts_as(self, dose: Dose) -> frozenset[str]:
        """The treatments for which a dose counts: its own, or each that it can be by its name."""
        if not dose.name:
            return frozenset((dose.treatment,))
        phase, unit = phase_at(self.facts.phases, dose.given_at), dose.amount.unit if dose.amount else ""
        return counted_as(dose.name, unit, dose.route, self.rules, phase)

    def before(self, slug: str) -> tuple[GivenBefore, ...]:
        """What of a treatment is only added up, told by a name too."""
        return tuple(
            each
            for each in self.facts.earlier.given.values()
            if each.treatment == slug or (each.name and slug in counted_as(each.name, "", "", self.rules))
        )

    @once
    def doses(self) -> tuple[Dose, ...]:
        """All that was given up to this moment, oldest first."""
        return tuple(dose for dose in self.all_doses if dose.given_at <= self.at)

    def newest(self, measurement: str) -> Latest | None:
        """The newest value of a measurement up to this moment with its time, None where there is none."""
        return _newest(measurement, self.facts, self.at)

    def latest(self, measurement: str) -> object:
        """The newest value of a measurement taken up to this moment, None where there is none."""
        found = self.newest(measurement)
        return None if found is None else found.value

    def value(self, measurement: str) -> float | None:
        """The newest number measured up to this moment, None where there is none."""
        found = self.latest(measurement)
        return found if isinstance(found, (int, float)) else None

    @once
    def response(self) -> int | str | None:
        """Alertness by the newer of its scales: the total of a GCS or a letter of AVPU, None where neither is known."""
        score, letter = self.newest("gcs"), self.newest("avpu")
        total = None if score is None else gcs_total(cast("Any", score.value))
        if total is None or score is None or (letter is not None and letter.taken_at > score.taken_at):
            return None if letter is None else str(letter.value)
        return total

    @once
    def airway_told(self) -> bool | None:
        """Whether a tube or a supraglottic airway was in place at this moment, None where nobody can tell."""
        return airway_secured(self.facts.airways, self.at)

    @property
    def airway_secured(self) -> bool:
        """Whether a tube or a supraglottic airway was surely in place at this moment."""
        return bool(self.airway_told)

    def class_of(self, dose: Dose) -> str:
        """The class of a dose outside the rule set, by its name, route and the phase in which it was given; else ""."""
        if not dose.name:
            return ""
        phase = phase_at(self.facts.phases, dose.given_at)
        return class_told(dose.name, dose.route, self.rules, phase) or class_elsewhere(dose.name, self.rules)

    @property
    def diseases(self) -> Iterator[Told]:
        """What of the complaint and the rhythm forbids a drug."""
        return (each for text in _told(self.facts, self.at) for each in diseases(text))

    @once
    def _by_drug(self) -> dict[str, list[Dose]]:
        """What was given up to this moment, newest first, by its drug; else by its class and the drugs of its name."""
        found: dict[str, list[Dose]] = {}
        for dose in reversed(self.doses):
            known = self.rules.treatments.get(dose.treatment)
            told = None if known else named(dose.name or "", self.rules)
            drugs = {known.drug} if known else {self.class_of(dose), *(told.drugs if told else ())}
            for drug in drugs:
                found.setdefault(drug, []).append(dose)
        return found

    def newest_of(self, drugs: frozenset[str]) -> list[Dose]:
        """What of these drugs, or classes of drugs, was given up to this moment, newest first."""
        of_these = [dose for drug in drugs for dose in self._by_drug.get(drug, ())]
        return sorted(of_these, key=lambda dose: dose.given_at, reverse=True)

    def has_given(self, drug_class: str) -> bool:
        """Whether anything of a class was given up to this moment, of what is only added up too."""
        of_class = self.rules.of_class.get(drug_class, frozenset())
        earlier = (each.treatment for each in self.facts.earlier.given.values())
        told = any(dose.treatment in of_class or self.class_of(dose) == drug_class for dose in self.doses)
        return told or not of_class.isdisjoint(earlier)

    @once
    def still_running(self) -> tuple[Dose, ...]:
        """What was given and still ran at this moment, or was held, oldest first."""
        return tuple(filter(self.running, self.doses))

    def running(self, dose: Dose) -> bool:
        """Whether an infusion was still running at this moment, or held."""
        return dose.goes_on if dose.ended_at is None else dose.ended_at > self.at

    def runs(self, slug: str) -> bool:
        """Whether an infusion of this treatment was running at this moment."""
        return any(dose.treatment == slug for dose in self.still_running)


def _newest(measurement: str, facts: Facts, at: datetime) -> Latest | None:
    latest = facts.latest.get(measurement)
    if latest is None or latest.taken_at <= at:
        return latest
    earlier = (each for each in reversed(facts.readings) if each.taken_at <= at)
    values = (Latest(getattr(each, measurement, None), each.taken_at) for each in earlier)
    return next((each for each in values if each.value is not None), None)


def _glucose(facts: Facts, at: datetime) -> float | None:
    """The newest in mg/dL; where a newer meter says no number, but that it is high, more than any."""
    number, flag = _newest("glucose_mg_dl", facts, at), _newest("glucose_flag", facts, at)
    told = None if number is None else number.value
    if (
        flag is not None
        and flag.value is not None
        and (number is None or told is None or number.taken_at < flag.taken_at)
    ):
        return inf if flag.value == "high" else None
    return float(told) if isinstance(told, (int, float)) else None


def _history_told(facts: Facts, rules: RuleSet, at: datetime) -> frozenset[str]:
    """What a drug on record says of the history: who had an MAO inhibitor has it in the blood for weeks."""
    names = {dose.name for dose in facts.doses if dose.given_at <= at}
    names |= {each.name for each in facts.earlier.given.values()}
    return frozenset(class_elsewhere(name, rules) for name in names if name) & HISTORY


def _diseases_told(facts: Facts, at: datetime) -> frozenset[str]:
    """What the allergies, the complaint and the rhythm say of the history."""
    told = (each.names for text in (*facts.patient.allergies, *_told(facts, at)) for each in diseases(text))
    return DISEASES & frozenset().union(*told)


def _told(facts: Facts, at: datetime) -> tuple[str, ...]:
    """What beside the allergies is told in words that may name a disease: the complaint, and the newest rhythm."""
    rhythm = _newest("rhythm", facts, at)
    return tuple(text for text in (facts.complaint, rhythm and rhythm.value) if isinstance(text, str))


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
        likely=units.body_weight(growth.likely(patient)),
        history=frozenset((*patient.history, *_history_told(facts, rules, at), *_diseases_told(facts, at))),
        pregnancy_weeks=patient.pregnancy_weeks,
        phase=phase_at(facts.phases, at),
        glucose=_glucose(facts, at),
        injuries=frozenset(patient.injuries),
        onset_h=None if patient.onset_at is None else (at - patient.onset_at) / timedelta(hours=1),
    )
    return Bedside(facts=facts, rules=rules, at=at, pressure=now, person=person)
