"""A small circulation for each simulated patient, moved on in simulated seconds.

Volume fills the heart, the heart's output against the tone of the vessels makes the pressure, and reflexes answer a low
one. It is plausible enough to show a trend and a response; it predicts nothing about a real patient. Deterministic:
chance enters only where a monitor measures (``monitor.py``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from consult.simulation import effects
from consult.simulation.effects import Drug

STEP_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Nature:
    """What a patient brings along, in mmHg, kg, beats and breaths a minute; ``filling_gain`` adds to a beat."""

    weight_kg: float
    map_normal: float = 90
    hr_normal: float = 72
    pulse_normal: float = 42
    rr_normal: float = 15
    blood_ml_per_kg: float = 70
    filling_gain: float = 1.8

    @property
    def blood_ml(self) -> float:
        """The blood volume in health, mL."""
        return self.weight_kg * self.blood_ml_per_kg


@dataclass(slots=True)
class Compartment:
    """One drug in the body, in its own unit: what has not acted yet, what acts now, and what runs in each minute."""

    waiting: float = 0.0
    acting: float = 0.0
    per_min: float = 0.0

    def advance(self, drug: Drug, seconds: float) -> None:
        """Let the drug come on and wear off."""
        self.waiting += self.per_min * seconds / 60
        arriving = self.waiting * (1 - math.exp(-seconds / drug.onset_s))
        self.waiting -= arriving
        self.acting = self.acting * 0.5 ** (seconds / 60 / drug.half_life_min) + arriving


@dataclass(slots=True)
class Pour:
    """A fluid or blood that still runs in: mL left, mL a second, and whether it is blood."""

    left_ml: float
    ml_per_s: float
    blood: bool = False


@dataclass(slots=True, kw_only=True)
class Body:
    """The changing state: volumes in mL, ``tone`` and ``contractility`` with 1 as normal, pressure in mmHg."""

    nature: Nature
    blood_ml: float
    tone: float = 1.0
    contractility: float = 1.0
    pulse_factor: float = 1.0
    bleeding_ml_min: float = 0.0
    leak_ml_min: float = 0.0
    reaction: float = 0.0
    temp_c: float = 36.8
    spo2_normal: float = 97
    glucose_mg_dl: float = 110
    lactate_mmol_l: float = 1.5
    wheeze: bool = False
    map: float = 90
    hr: float = 72
    hr_drive: float = 1.0
    reflex: float = 0.0
    crystalloid_ml: float = 0.0
    lung_water_ml: float = 0.0
    drugs: dict[str, Compartment] = field(default_factory=dict)
    pours: list[Pour] = field(default_factory=list)
    _rest_s: float = 0.0

    @property
    def filling(self) -> float:
        """How full the circulation is, 1 in health, kept between 0.45 and 1.6."""
        return _between(0.45, (self.blood_ml + self.crystalloid_ml) / self.nature.blood_ml, 1.6)

    @property
    def stroke(self) -> float:
        """What one beat throws out, 1 in health."""
        full, gain = (self.filling - 0.35) / 0.65, self.nature.filling_gain
        return self.contractility * (1 + self._drug("contractility")) * (1 + gain) * full / (full + gain)

    @property
    def output(self) -> float:
        """The flow, 1 in health."""
        return self.stroke * math.sqrt(self.hr / self.nature.hr_normal)

    @property
    def filling_mmhg(self) -> float:
        """The pressure behind the left heart, which wets the lungs of a failing one."""
        strength = self.contractility * (1 + self._drug("contractility"))
        return effects.load().body["filling_normal_mmhg"] * self.filling**2 / strength

    @property
    def crackles(self) -> bool:
        """Whether the lungs hold enough water to be heard."""
        return self.lung_water_ml >= effects.load().body["crackles_ml"]

    def settle(self, *, map_mmhg: float, hr: float) -> None:
        """Choose tone and heart-rate drive so that the body stands at this pressure and rate when nothing is done."""
        self.map, self.hr, self.tone, self.hr_drive = map_mmhg, hr, 1.0, 1.0
        self.reflex = self._shortfall()
        self.tone = map_mmhg / self._pressure()
        self.hr_drive = hr / self._rate()

    def advance(self, seconds: float) -> None:
        """Move on by simulated ``seconds``; what is less than a whole step is kept for the next call."""
        self._rest_s += seconds
        while self._rest_s >= STEP_S:
            self._rest_s -= STEP_S
            self._step(STEP_S)

    def _step(self, seconds: float) -> None:
        for name, compartment in self.drugs.items():
            compartment.advance(effects.load().drugs[name], seconds)
        self._move_volume(seconds)
        self._move_reaction(seconds)
        self._move_lungs(seconds)
        numbers = effects.load().body
        self.reflex += (self._shortfall() - self.reflex) * seconds / numbers["reflex_lag_s"]
        self.hr = _between(20, self.hr + (self._rate() - self.hr) * seconds / numbers["reflex_lag_s"], 240)
        self.map = _between(15, self.map + (self._pressure() - self.map) * seconds / numbers["pressure_lag_s"], 190)
        owed = _between(0, 1 - self.map / self.nature.map_normal - 0.25, 1)
        self.lactate_mmol_l = _between(0.8, self.lactate_mmol_l + (owed * 0.3 - 0.01) * seconds / 60, 18)

    def _move_volume(self, seconds: float) -> None:
        numbers, minutes = effects.load().body, seconds / 60
        for pour in self.pours:
            amount = min(pour.left_ml, pour.ml_per_s * seconds)
            pour.left_ml -= amount
            kept = 1.0 if pour.blood else numbers["crystalloid_kept"]
            self.blood_ml += amount * kept
            self.crystalloid_ml += amount * (1 - kept)
        self.pours = [pour for pour in self.pours if pour.left_ml > 0]
        self.crystalloid_ml *= 0.5 ** (minutes / numbers["crystalloid_half_time_min"])
        leak = self.leak_ml_min + self.reaction * numbers["reaction_leak_ml_per_kg_min"] * self.nature.weight_kg
        loss = leak + self.bleeding_ml_min * (self.map / self.nature.map_normal)
        self.blood_ml = max(self.blood_ml - loss * minutes, 0.3 * self.nature.blood_ml)

    def _move_reaction(self, seconds: float) -> None:
        if not self.reaction:
            return
        numbers, minutes = effects.load().body, seconds / 60
        epinephrine = sum(self._level(name) for name in self.drugs if name.startswith("epinephrine"))
        change = numbers["reaction_return_per_min"] - numbers["reaction_relief_per_min"] * min(epinephrine, 1.0)
        self.reaction = _between(0.02, self.reaction * (1 + change * minutes), 1.0)

    def _move_lungs(self, seconds: float) -> None:
        numbers, minutes = effects.load().body, seconds / 60
        over = max(self.filling_mmhg - numbers["filling_wet_mmhg"], 0)
        self.lung_water_ml += over * numbers["lung_water_ml_per_mmhg_min"] * minutes
        self.lung_water_ml *= 1 - numbers["lung_water_cleared_per_min"] * minutes

    def _shortfall(self) -> float:
        return _between(-0.3, 1 - self.map / self.nature.map_normal, 0.7)

    def _pressure(self) -> float:
        numbers = effects.load().body
        vessels = self.tone * (1 - numbers["reaction_tone"] * self.reaction) * (1 + self._drug("tone"))
        return self.nature.map_normal * self.output * vessels * (1 + numbers["reflex_tone"] * self.reflex)

    def _rate(self) -> float:
        reflex = 1 + effects.load().body["reflex_rate"] * self.reflex
        return self.nature.hr_normal * self.hr_drive * reflex * (1 + self._drug("rate"))

    def _level(self, name: str) -> float:
        """How far a drug has come toward its most, 0 to 1."""
        level = self.drugs[name].acting / self.nature.weight_kg
        return level / (level + effects.load().drugs[name].half_effect_per_kg)

    def _drug(self, quality: str) -> float:
        return sum(float(getattr(effects.load().drugs[name], quality)) * self._level(name) for name in self.drugs)


def _between(least: float, value: float, most: float) -> float:
    return max(least, min(value, most))
