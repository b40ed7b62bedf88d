"""The words of the screens: how a patient, a state, a measurement or a history code is written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any

from dosing.check.allergies import none_known
from dosing.ground.exact import exact, shown
from dosing.ground.facts import Age, Patient, Weight
from dosing.ground.language import gettext as _
from dosing.ground.language import words
from dosing.ground.measurements import ALERT, BY_NAME, IN_OTHER_UNITS, MEASUREMENTS, Measurement
from dosing.ground.text import number_text
from dosing.patient.growth import unlikely_weight
from dosing.rules.words import MARKS_TOLD

STATES = {
    "critical": _("Critical"),
    "below_goal": _("Below goal"),
    "at_goal": _("At goal"),
    "normal_range": _("At goal 80–100"),
    "above_range": _("High: MAP above 100"),
    "above_goal": _("Above goal"),
    "unknown": _("Unknown"),
}
BASES = {
    "measured": _("measured"),
    "stated": _("stated"),
    "length": _("by length"),
    "age": _("by age"),
    "estimated": _("estimated"),
}
AGE_UNITS = {"years": "y", "months": "mo", "days": "d"}
CODE_STATUS = {
    "full": _("full"),
    "no_cpr": _("no CPR"),
    "no_intubation": _("no intubation"),
    "comfort": _("comfort care"),
    "unknown": _("unknown"),
}
NAMES = {each.name: each.short for each in MEASUREMENTS}
NEEDS = {each.name: each.long for each in MEASUREMENTS}  # the other words for what a reassessment needs are plain
PROCEDURES = {
    "iv_access": _("IV access"),
    "io_access": _("IO access"),
    "airway": _("Airway"),
    "ventilation": _("Ventilation"),
    "oxygen": _("Oxygen"),
    "tourniquet": _("Tourniquet"),
    "pelvic_binder": _("Pelvic binder"),
    "wound_packing": _("Wound packing"),
    "chest_decompression": _("Chest decompression"),
    "ecg_12": _("12-lead ECG"),
    "pacing": _("Pacing"),
    "cardioversion": _("Cardioversion"),
    "defibrillation": _("Defibrillation"),
    "cpr": _("Compressions on"),
    "cpr_pause": _("Compressions paused"),
    "warming": _("Warming"),
    "splint": _("Splint"),
    "other": _("Other"),
}

# Codes that are no words yet without their underscores.
SHORT_CODES = {name: PROCEDURES[name] for name in ("iv_access", "io_access", "ecg_12", "cpr")}
SHORT_CODES |= {"maoi": _("MAO inhibitor"), "cosigned": _("co-signed")}
SHORT_CODES |= {"readback_waiting": _("read-back waiting"), "readback_mismatch": _("read-back mismatch")}
PHASES = {
    "transport": _("On the way"),
    "arrest": _("Cardiac arrest"),
    "pulse_back": _("Pulse is back"),
    "ended": _("Resuscitation ended"),
}

# The fields of a read-back that can differ, in words.
DIFFERENCES = {
    "action": _("what to do"),
    "treatment": _("drug"),
    "name": _("name of the drug"),
    "route": _("route"),
    "amount": _("dose, strength or rate"),
    "titrate": _("whether it has steps"),
    "titrate.step": _("step size"),
    "titrate.every_min": _("minutes between steps"),
    "titrate.most": _("maximum rate"),
    "titrate.goal": _("pressure goal"),
    "titrate.call_at": _("rate to call at"),
}


def mark_told(text: str) -> str:
    """A source's text with its mark, in brackets at its end, in the words of the pages."""
    told, bracket, mark = text.rstrip("]").rpartition(" [")
    return f"{told}{bracket}{MARKS_TOLD[mark]}]" if bracket and mark in MARKS_TOLD else text


def plain(code: object) -> str:
    """A code of the API as words: `heart_failure` becomes `heart failure`; other texts stay as they are."""
    return SHORT_CODES.get(str(code)) or words(code)


def listed(codes: Iterable[object], none: str = _("none recorded")) -> str:
    """Codes as words, joined by commas."""
    return ", ".join(plain(code) for code in codes) or none


def allergies_text(patient: Mapping[str, Any]) -> str:
    """The allergies on record; that none is stands in words, so that nobody reads silence as none.

    That none is known is told apart from that none is recorded, with the words that said so.
    """
    told = listed(patient.get("allergies") or (), none="")
    if none_known(patient.get("allergies") or ()):
        return _("No known allergies (“{told}”)", told=told)
    return _("Allergies: {told}", told=told) if told else _("No allergies recorded")


def allergic(patient: Mapping[str, Any]) -> bool:
    """Whether an allergy is on record, which is more than that none is known."""
    known = patient.get("allergies") or ()
    return bool(known) and not none_known(known)


def value_text(value: object) -> str:
    """A measured value as it was sent: no trailing zero, a total or the three parts of a GCS, words for codes."""
    if isinstance(value, bool) or value is None:
        return ""
    if isinstance(value, int | float):
        return number_text(value, 4)
    if isinstance(value, Mapping):
        parts = [value.get(name) for name in ("eye", "verbal", "motor")]
        return f"{sum(part or 0 for part in parts)} (E{parts[0]} V{parts[1]} M{parts[2]})" if None not in parts else ""
    return ALERT.get(str(value), plain(value))


def measured_text(name: str, value: object) -> str:
    """A measured value with its name and unit: ``HR 128 /min``; also one that nobody measures any more."""
    known = BY_NAME.get(name) or Measurement(name, plain(name))
    return f"{known.short} {value_text(value)} {unit_text(known, value)}".strip()


def unit_text(measurement: Measurement, value: object) -> str:
    """The unit behind a value, with the value in its other unit where it has one: ``mg/dL (4 mmol/L)``."""
    if not isinstance(value, int | float):
        return measurement.unit
    if told := measurement.of:
        return f"{measurement.unit} ({value_text(float(exact(value) * told.times))} {BY_NAME[told.name].unit})"
    others = {name: told.times for name, told in IN_OTHER_UNITS.items() if told.name == measurement.name}
    same = [
        f"({shown(Fraction(exact(value), times), places=1)} {BY_NAME[name].unit})" for name, times in others.items()
    ]
    return " ".join([measurement.unit, *same])


def age_text(age: Mapping[str, Any] | None) -> str:
    """An age with its unit; without one the patient counts as an adult."""
    if not age:
        return _("adult, age unknown")
    guess = _(" (estimated)") if age.get("basis") == "estimated" else ""
    return f"{value_text(age['value'])} {AGE_UNITS.get(age['unit'], age['unit'])}{guess}"


def sex_text(sex: str | None) -> str:
    """The sex, or nothing where it is not known."""
    return "" if sex in (None, "", "unknown") else words(sex)


def person(patient: Mapping[str, Any]) -> dict[str, Any]:
    """Age, sex and weight of a patient with the weight's basis; `guess` where the weight was not measured or stated."""
    weight = patient.get("weight")
    who = " ".join(filter(None, [age_text(patient.get("age")), sex_text(patient.get("sex"))]))
    basis = str(weight.get("basis", "")) if weight else ""
    return {
        "who": who,
        "label": patient.get("label") or "",
        "weight": f"{value_text(weight['value'])} kg" if weight else _("weight unknown"),
        "basis": BASES.get(basis, basis),
        "guess": basis in ("length", "age", "estimated"),
        "doubt": doubt(patient),
    }


def whom(card: Mapping[str, Any]) -> str:
    """Whose card it is, for buttons and confirmations: the call sign, with the patient's letter where there is one."""
    return " ".join(filter(None, [card["unit"]["call_sign"], card["patient"].get("label")]))


def who_text(person: Mapping[str, Any]) -> str:
    """The patient on one line: ``58 y male, 80 kg stated``, with the label where there are several."""
    return f"{' '.join(filter(None, [person['who'], person['label']]))}, {weight_text(person)}"


def weight_text(person: Mapping[str, Any]) -> str:
    """The weight with how it is known: ``80 kg stated``."""
    return " ".join(filter(None, [person["weight"], person["basis"]]))


def doubt(patient: Mapping[str, Any]) -> str:
    """A sentence where the weight lies outside what is usual for age and sex, else nothing."""
    age, weight = (patient.get(name) for name in ("age", "weight"))
    known = Patient(
        age=Age(age["value"], age["unit"], age.get("basis", "stated")) if age else None,
        weight=Weight(weight["value"]) if weight else None,
        sex=patient.get("sex") or "unknown",
    )
    return "; ".join(unlikely_weight(known))
