"""Who is treated: age in completed years, and who counts as an adult."""

from __future__ import annotations

from math import floor

from dosing.ground.facts import Age, Patient
from dosing.ground.language import gettext as _
from dosing.ground.language import words
from dosing.ground.tables import load

MONTHS_A_YEAR = 12
DAYS_A_YEAR = 365

_ADULT = load("ground/age_tables")["adult"]


def completed_years(age: Age) -> int:
    """Whole years lived: months // 12, days // 365."""
    if age.unit == "years":
        return floor(age.value)
    if age.unit == "months":
        return floor(age.value) // MONTHS_A_YEAR
    return floor(age.value) // DAYS_A_YEAR


def completed_months(age: Age) -> int:
    """Whole months lived; a month of days is a twelfth of 365 days."""
    if age.unit == "years":
        return floor(age.value * MONTHS_A_YEAR)
    if age.unit == "months":
        return floor(age.value)
    return floor(age.value) * MONTHS_A_YEAR // DAYS_A_YEAR


def completed_days(age: Age) -> int:
    """Whole days lived; exact for ages stated in days, else the fewest days of such an age."""
    if age.unit == "years":
        return floor(age.value * DAYS_A_YEAR)
    if age.unit == "months":
        return floor(age.value * DAYS_A_YEAR / MONTHS_A_YEAR)
    return floor(age.value)


def is_adult(patient: Patient) -> bool:
    """Whether the pressure is judged as an adult's: 18 years and over, or age unknown."""
    return child_age(patient) is None


def child_age(patient: Patient) -> Age | None:
    """The age by which a child's pressure is judged; None for an adult."""
    age = patient.age
    return None if age is None or completed_years(age) >= _ADULT["pressure_from_years"] else age


def is_adult_for_dosing(patient: Patient) -> bool:
    """Whether doses are an adult's: from 18 years, from 12 years and 50 kg, or age unknown."""
    if patient.age is None:
        return True
    years = completed_years(patient.age)
    if years >= _ADULT["dosing_from_years"]:
        return True
    heavy = patient.weight is not None and patient.weight.value >= _ADULT["dosing_heavy_kg"]
    return heavy and years >= _ADULT["dosing_from_years_if_heavy"]


def weight_decides(patient: Patient) -> bool:
    """Whether the weight says if doses are an adult's or a child's: from 12 years, under 18."""
    from_years, under_years = _ADULT["dosing_from_years_if_heavy"], _ADULT["dosing_from_years"]
    return patient.age is not None and from_years <= completed_years(patient.age) < under_years


def age_text(age: Age | None) -> str:
    """The age as a person reads it, such as ``5 years``, ``1 month``, ``about 70 years``, ``adult, age unknown``."""
    if age is None:
        return _("adult, age unknown")
    number = f"{age.value:g}"
    unit = words(age.unit.removesuffix("s") if age.value == 1 else age.unit)
    known = f"{number} {unit}"
    return _("about {age}", age=known) if age.basis == "estimated" else known
