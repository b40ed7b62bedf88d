"""What a monitor and a crew would measure on a simulated body: one set of vitals in the names and ranges of the API."""

from __future__ import annotations

from random import Random
from typing import Any

from consult.simulation.physiology import Body

CUFF_SCATTER_MMHG = 1.5


def pressure(body: Body, chance: Random, method: str = "cuff") -> dict[str, Any]:
    """A blood pressure in mmHg whose (systolic + 2 × diastolic) / 3 is the body's MAP but for scatter and rounding."""
    mean = body.map + chance.gauss(0, CUFF_SCATTER_MMHG)
    width = body.nature.pulse_normal * body.pulse_factor * min(body.stroke, 1.6)
    width = max(8.0, min(width, 1.4 * mean))
    systolic = _within(40, round(mean + width * 2 / 3), 260)
    diastolic = _within(10, round(mean - width / 3), systolic - 6)
    if method == "palpated":
        return {"sbp": round(systolic / 2) * 2, "bp_method": "palpated"}
    return {"sbp": systolic, "dbp": diastolic, "map_reported": round(mean), "bp_method": method}


def quick(body: Body, chance: Random) -> dict[str, Any]:
    """What the monitor shows all the time: heart rate, saturation, breathing."""
    perfusion = _perfusion(body)
    wet = body.lung_water_ml / 40
    saturation = body.spo2_normal - wet - max(0.0, 0.6 - perfusion) * 10 - 6 * body.reaction
    breathing = body.nature.rr_normal + 14 * (1 - perfusion) + wet + 6 * body.reaction
    return {
        "hr": _within(20, round(body.hr + chance.gauss(0, 1.5)), 240),
        "spo2": _within(60, round(saturation + chance.gauss(0, 0.4)), 100),
        "rr": _within(6, round(breathing + chance.gauss(0, 0.8)), 48),
    }


def examination(body: Body, chance: Random) -> dict[str, Any]:
    """What a crew looks for besides: lungs, refill, alertness, temperature, glucose and exhaled carbon dioxide."""
    perfusion = _perfusion(body)
    return {
        "lungs": _lungs(body),
        "cap_refill_s": _within(1, round(2 + 5 * max(0.0, 0.9 - perfusion)), 8),
        "avpu": "A" if perfusion > 0.62 else "V" if perfusion > 0.48 else "P",
        "temp_c": round(body.temp_c + chance.gauss(0, 0.05), 1),
        "glucose_mg_dl": _within(20, round(body.glucose_mg_dl + chance.gauss(0, 2)), 900),
        "etco2": _within(8, round(38 - 22 * max(0.0, 1 - body.output)), 70),
    }


def _perfusion(body: Body) -> float:
    """Pressure and flow together, 1 in health."""
    return 0.6 * body.map / body.nature.map_normal + 0.4 * min(body.output, 1.2)


def _lungs(body: Body) -> str:
    if body.crackles:
        return "crackles"
    return "wheeze" if body.wheeze or body.reaction > 0.25 else "clear"


def _within(least: int, value: int, most: int) -> int:
    return max(least, min(value, most))
