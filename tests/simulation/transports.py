"""The transports of a scripted shift: who lies in the vehicle, how the body stands, and what the crew plans.

All of it is made up for counting alarms. The bodies are those of the simulation; nothing here is tuned to a figure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from random import Random
from typing import Any

from msgspec import structs

from consult.simulation.physiology import Body, Nature
from dosing.ground.facts import Age, Patient, Weight


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """One kind of transport; ``every_min`` is how often its crew takes a set when nothing else asks for one."""

    name: str
    patient: Patient
    plan: str = ""
    impression: str = "undifferentiated"
    steady: bool = False
    every_min: float = 5
    map: float = 85
    hr: float = 84
    nature: Mapping[str, float] = field(default_factory=dict)
    body: Mapping[str, Any] = field(default_factory=dict)
    ventilated: bool = False

    def make_body(self) -> Body:
        weight = self.patient.weight.value if self.patient.weight else 75
        nature = Nature(weight_kg=weight, **self.nature)
        values = dict(self.body)
        blood = nature.blood_ml * float(values.pop("blood_part", 1.0))
        body = Body(nature=nature, blood_ml=blood, **values)
        body.settle(map_mmhg=self.map, hr=self.hr)
        return body


def adult(age: float, kg: float, **more: Any) -> Patient:
    return Patient(age=Age(age, "years"), weight=Weight(kg), **more)


HURT_AT = datetime(2030, 1, 5, 7, 30, tzinfo=UTC)  # half an hour before the shift begins
SEPTIC = Profile(
    name="septic shock", plan="shock", impression="septic", patient=adult(68, 74), map=56, hr=122, every_min=4,
    body={"blood_part": 0.9, "leak_ml_min": 8, "spo2_normal": 94, "temp_c": 38.8},
)  # fmt: skip
CHEST = Profile(name="chest pain", patient=adult(59, 84), steady=True, map=92, hr=78, every_min=10)
BLEED = Profile(
    name="bleeding", plan="bleed", impression="hemorrhagic",
    patient=adult(34, 80, bleeding_cause="trauma", onset_at=HURT_AT),
    map=60, hr=118, every_min=4, body={"blood_part": 0.78, "bleeding_ml_min": 14},
)  # fmt: skip
SEDATED = Profile(
    name="sedated on a pressor", plan="sedated", impression="septic", patient=adult(61, 78), map=74, hr=96,
    ventilated=True, body={"blood_part": 0.95},
)  # fmt: skip
NEWBORN = Profile(
    name="newborn", patient=Patient(age=Age(2, "days"), weight=Weight(3.2)), steady=True, map=46, hr=138,
    nature={"map_normal": 46, "hr_normal": 136, "pulse_normal": 24, "rr_normal": 44, "blood_ml_per_kg": 85},
)  # fmt: skip
HEART = Profile(
    name="failing heart", plan="heart", impression="cardiogenic", patient=adult(71, 88, history=("heart_failure",)),
    map=61, hr=104, every_min=4, nature={"filling_gain": 0.2}, body={"contractility": 0.6, "spo2_normal": 94},
)  # fmt: skip
HIP = Profile(name="broken hip", plan="pain", patient=adult(82, 62), steady=True, map=96, hr=88, every_min=8)
WASP = Profile(
    name="anaphylaxis", plan="wasp", impression="anaphylactic", patient=adult(29, 66), map=66, hr=124, every_min=4,
    body={"reaction": 0.6, "blood_part": 0.95},
)  # fmt: skip
CHILD = Profile(
    name="septic child", plan="child", impression="septic", patient=adult(5, 18), map=58, hr=138,
    nature={"map_normal": 70, "hr_normal": 105, "pulse_normal": 34, "rr_normal": 24, "blood_ml_per_kg": 80},
    body={"blood_part": 0.85},
)  # fmt: skip
STROKE = Profile(
    name="stroke, hypertensive", patient=adult(76, 70), steady=True, map=118, hr=72, every_min=8,
    nature={"map_normal": 115, "pulse_normal": 62},
)  # fmt: skip
HEAD = Profile(
    name="head injury", plan="sedation", patient=adult(41, 82, injuries=("head",)), map=92, hr=82, ventilated=True
)
LUNGS = Profile(
    name="chronic lungs", patient=adult(73, 68), steady=True, map=94, hr=92, every_min=8, body={"spo2_normal": 92}
)
MIXED = (SEPTIC, CHEST, BLEED, SEDATED, NEWBORN, HEART, HIP, WASP, CHILD, STROKE, HEAD, LUNGS)
STEADY = tuple(each for each in MIXED if each.steady)


def shift(count: int, chance: Random, kinds: tuple[Profile, ...] = MIXED) -> list[Profile]:
    """So many transports: each kind in turn, after the first round a little sicker or better, heavier or lighter."""
    return [kinds[n % len(kinds)] if n < len(kinds) else _varied(kinds[n % len(kinds)], chance) for n in range(count)]


def _varied(profile: Profile, chance: Random) -> Profile:
    weight = profile.patient.weight
    kg = round(weight.value * chance.uniform(0.85, 1.2), 1) if weight else 75
    patient = structs.replace(profile.patient, weight=Weight(kg))
    return replace(
        profile,
        patient=patient,
        map=profile.map * chance.uniform(0.95, 1.08),
        hr=profile.hr * chance.uniform(0.92, 1.06),
    )
