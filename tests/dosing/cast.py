"""The patients and clock of the pressure tests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from dosing.ground.facts import Age, Dose, Facts, Patient, Reading, Weight

TEN = datetime(2030, 1, 5, 10, 0, tzinfo=UTC)

ADA = Patient(age=Age(54, "years"), weight=Weight(70), sex="female")
UNKNOWN = Patient()
BEN = Patient(age=Age(5, "years"), weight=Weight(18), sex="male")
NOA = Patient(age=Age(10, "days"), weight=Weight(3.4))


def at(minutes: float) -> datetime:
    """A moment so many minutes after ten o'clock."""
    return TEN + timedelta(minutes=minutes)


def child(value: float, unit: str = "years") -> Patient:
    return Patient(age=Age(value, unit))


def reading(minutes: float = 0, sbp: float | None = None, dbp: float | None = None, **more: Any) -> Reading:
    return Reading(taken_at=at(minutes), sbp=sbp, dbp=dbp, **more)


def mean(minutes: float, value: float, **more: Any) -> Reading:
    """A reading whose MAP is ``value`` and whose systolic pressure is well above every floor."""
    return Reading(taken_at=at(minutes), sbp=120, dbp=(3 * value - 120) / 2, **more)


def push(minutes: float, name: str = "first push", treatment: str = "epinephrine-push-dose", **more: Any) -> Dose:
    return Dose(id=name, treatment=treatment, given_at=at(minutes), **more)


def case(*readings: Reading, patient: Patient = ADA, **more: Any) -> Facts:
    """An open case whose unit was last heard when the newest reading came."""
    last = max((each.taken_at for each in readings), default=TEN)
    return Facts(**({"patient": patient, "opened_at": TEN, "readings": readings, "last_contact_at": last} | more))
