"""How long ago something was, as a text tells it: ``burn 3 days ago``, ``day 4``, ``stroke last week``."""

from __future__ import annotations

import re

_HOURS = {"mi": 1 / 60, "h": 1, "d": 24, "w": 7 * 24, "mo": 30 * 24, "y": 365 * 24}
_NUMBERS = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "few": 3, "several": 3}
_UNIT = r"(mins?|minutes?|h|hrs?|hours?|d|days?|w|wks?|weeks?|mos?|months?|y|yrs?|years?)\b"
_PATIENT_IS = re.compile(r"\d+[ -]*(?:y/?o|yo?[mf]|(?:years?|yrs?)[- ]old)\b")  # and not what befell the patient
_SPAN = re.compile(rf"\b(\d+(?:\.\d+)?|{'|'.join(_NUMBERS)})[ -]*{_UNIT}")
_DAY = re.compile(r"\bday[ #]*(\d+)\b")
_NOW = re.compile(r"\b(?:today|tonight|just now|acute|fresh|new|last night|this (?:morning|afternoon|evening))\b")
_LONG = re.compile(
    r"\b(?:old|last (?:week|month)|weeks|days|months|history of|hx|h/o|previous|prior|former|past|chronic|healing)\b"
)
A_WEEK_H = 7 * 24.0


def hours_ago(text: str) -> float | None:
    """How many hours, None where the text does not say; what is only called old counts as a week."""
    told = _PATIENT_IS.sub(" ", text.casefold())
    spans = [
        float(_NUMBERS.get(number, 0) or number) * _HOURS[unit[: 1 + unit.startswith("m")]]
        for number, unit in _SPAN.findall(told)
    ]
    spans += [float(day) * _HOURS["d"] for day in _DAY.findall(told)]
    if spans:
        return max(spans)
    if _LONG.search(told):
        return A_WEEK_H
    return 0.0 if _NOW.search(told) else None
