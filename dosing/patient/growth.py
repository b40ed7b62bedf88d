"""What children weigh at an age, by the published references, and a weight to ask back. Data: ``growth.toml``."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from functools import lru_cache
from math import copysign, exp, floor
from typing import Any

from dosing.ground.exact import exact
from dosing.ground.facts import Age, Patient, Weight
from dosing.ground.language import gettext as _
from dosing.ground.patient import MONTHS_A_YEAR, age_text, is_adult_for_dosing
from dosing.ground.tables import load
from dosing.ground.text import number_text
from dosing.rules.rule_set import Source

_TABLES = load("patient/growth")
_Z = float(_TABLES["centiles"]["z"])
_ADULT = _TABLES["adult"]
_PER_MONTH = {"years": MONTHS_A_YEAR, "months": 1, "days": 1 / float(_TABLES["units"]["days_per_month"])}
_SEXES = {"male": ("boy",), "female": ("girl",)}
_OUTERMOST = 3  # beyond it the fitted curve says nothing: nobody so light or heavy was in the sample
_BY_MONTH = 36  # a child who is younger has its age told in months
_STRAIGHT = 1e-6  # a power this near to zero is the exponential


def weight_at(months: float, sex: str, z: float) -> float | None:
    """The weight in kg at an age in months of a ``boy`` or a ``girl``, ``z`` normal deviates from the middle.

    WHO under 5 years, CDC up to 20, None beyond. Source of M x (1 + L x S x z)^(1/L): LMS method, Cole & Green 1992;
    beyond 3 deviates each further one is as wide as that from 2 to 3: WHO growth standards 2006, weight-based measures.
    """
    if abs(z) > _OUTERMOST:
        outer, inner = (weight_at(months, sex, copysign(line, z)) for line in (_OUTERMOST, _OUTERMOST - 1))
        return None if outer is None or inner is None else outer + (abs(z) - _OUTERMOST) * (outer - inner)
    first = _TABLES[f"who-{sex}"]
    rows = (first if months < first["under_months"] else _TABLES[f"cdc-{sex}"])["rows"]
    if months > rows[-1][0]:
        return None
    power, middle, spread = _between(rows, months)
    if abs(power) < _STRAIGHT:
        return middle * exp(spread * z)
    return float(middle * (1 + power * spread * z) ** (1 / power))


def _between(rows: list[list[Any]], months: float) -> list[float]:
    """L, M and S at an age, in a straight line between two rows; before the first row its own."""
    place = min(max(bisect_right(rows, months, key=lambda row: row[0]), 1), len(rows) - 1)
    (start, *before), (end, *after) = rows[place - 1], rows[place]
    part = max(0.0, (months - float(start)) / float(end - start))
    return [float(low) + part * float(high - low) for low, high in zip(before, after, strict=True)]


@lru_cache(maxsize=1024)
def usual_kg(age: Age | None, sex: str) -> tuple[float, float]:
    """The 3rd and 97th centile in kg to one decimal, of the whole year, month or day that an age in these units means.

    Of an unknown sex the widest; from 20 years, or of an unknown age, what an adult usually weighs.
    """
    return _span(age, sex, -_Z, _Z) or (_ADULT["least_kg"], _ADULT["most_kg"])


@lru_cache(maxsize=1024)
def plausible_kg(age: Age | None, sex: str) -> tuple[float, float, Source]:
    """Outside which weights in kg an entry is an error more often than a patient, as ``usual_kg``; and its source."""
    flagged, adult = _TABLES["implausible"], _TABLES["implausible_adult"]
    child = _span(age, sex, flagged["least_z"], flagged["most_z"])
    if child is None:
        return adult["least_kg"], adult["most_kg"], _source("implausible_adult")
    return *child, _source("implausible")


@lru_cache(maxsize=1)
def spans() -> dict[str, Any]:
    """Between which weights in kg somebody usually is, as ``usual_kg``, for a page that asks before it sends.

    By sex (``any`` where it is not known) for each month of the first years and each year up to 20; and of adults. With
    what a pound is in kg, by which pounds that were typed as kilograms are known.
    """
    by_month, by_year = range(_BY_MONTH), range(int(_TABLES["cdc-boy"]["rows"][-1][0]) // MONTHS_A_YEAR)
    return {
        "kg_per_pound": float(_TABLES["units"]["kg_per_pound"]),
        "adult": list(usual_kg(None, "")),
        **{
            sex: {
                "months": [list(usual_kg(Age(month, "months"), sex)) for month in by_month],
                "years": [list(usual_kg(Age(year, "years"), sex)) for year in by_year],
            }
            for sex in (*_SEXES, "any")
        },
    }


def _span(age: Age | None, sex: str, least_z: float, most_z: float) -> tuple[float, float] | None:
    """The weights between two deviates over all that an age means, of each sex it may be; None beyond all tables."""
    if age is None:
        return None
    starts, ends = (value * _PER_MONTH[age.unit] for value in (age.value, floor(age.value) + 1))
    sexes = _SEXES.get(sex, ("boy", "girl"))
    low = [kg for each in sexes if (kg := weight_at(starts, each, least_z)) is not None]
    high = [kg for each in sexes if (kg := weight_at(ends, each, most_z)) is not None]
    return (round(min(low), 1), round(max(high), 1)) if low and high else None


def likely(patient: Patient) -> Weight | None:
    """What a child of this age is likely to weigh, where nobody weighed it; None for adults and unknown ages.

    The middle of the reference at the end of what the age means: half of all children of the age are lighter by then.
    """
    if patient.weight is not None or patient.age is None or is_adult_for_dosing(patient):
        return None
    middle = _span(patient.age, patient.sex, 0, 0)
    return None if middle is None else Weight(middle[1], "kg", "age")


def references() -> Iterator[tuple[str, str, Source]]:
    """Outside what a weight is asked back, for a person to read: for whom, what is usual, and its source."""
    for name, whom in (("who-boy", _("under 5 years")), ("cdc-boy", _("5 to 19 years"))):
        yield whom, _centiles(), _source(name)
    yield (
        _("adult, or age unknown"),
        f"{number_text(_ADULT['least_kg'])}–{number_text(_ADULT['most_kg'])} kg",
        _source("adult"),
    )


def implausible() -> Iterator[tuple[str, str, Source]]:
    """Outside what a weight is a caution beside each dose that it decides, told like ``references``."""
    flagged, adult = _TABLES["implausible"], _TABLES["implausible_adult"]
    yield (
        _("under 20 years"),
        _("−{least_z} to +{most_z} z", least_z=-flagged["least_z"], most_z=flagged["most_z"]),
        _source("implausible"),
    )
    span = f"{number_text(adult['least_kg'])}–{number_text(adult['most_kg'])} kg"
    yield _("adult, or age unknown"), span, _source("implausible_adult")


def _source(name: str) -> Source:
    return Source(name, _TABLES[name]["source"], _TABLES[name]["mark"])


def unlikely_weight(patient: Patient) -> list[str]:
    """One sentence to ask back where the weight lies outside what is usual for age and sex; never a refusal."""
    return [] if patient.weight is None else _asked_back(patient.weight, patient.age, patient.sex)


def implausible_weight(patient: Patient) -> tuple[str, Source] | None:
    """The words and source of a caution beside a dose, where the weight is an error more often than a patient."""
    if patient.weight is None:
        return None
    low, high, source = plausible_kg(patient.age, patient.sex)
    if low <= patient.weight.value <= high:
        return None
    of = _("at {age}", age=age_text(patient.age)) if source.id == "implausible" else _("for an adult")
    kilograms, span = number_text(patient.weight.value, 4), f"{number_text(low)}–{number_text(high)} kg"
    return _(
        "weight {kilograms} kg is almost impossible {of} ({span}): check weight and age before this dose",
        kilograms=kilograms,
        of=of,
        span=span,
    ), source


def too_heavy(patient: Patient) -> bool:
    """Whether a child is heavier than any: what goes by such a weight is too much.

    By one that is too low less is given, and an adult's doses have ceilings: there a caution will do.
    """
    if patient.weight is None:
        return False
    _, high, source = plausible_kg(patient.age, patient.sex)
    return source.id == "implausible" and patient.weight.value > high


def _asked_back(weight: Weight, age: Age | None, sex: str) -> list[str]:
    low, high = usual_kg(age, sex)
    if low <= weight.value <= high:
        return []
    usual = f"{number_text(low)}–{number_text(high)} kg"
    adult = (low, high) == (_ADULT["least_kg"], _ADULT["most_kg"])
    of = _("for an adult") if adult else _("at {age}, {centiles}", age=age_text(age), centiles=_centiles())
    return [
        _(
            "weight {weight} kg, usual is {usual} {of}{pounds}",
            weight=number_text(weight.value, 4),
            usual=usual,
            of=of,
            pounds=_pounds(weight, low, high),
        )
    ]


def _centiles() -> str:
    return _(
        "{lowest}rd to {highest}th centile",
        lowest=_TABLES["centiles"]["lowest"],
        highest=_TABLES["centiles"]["highest"],
    )


def _pounds(weight: Weight, low: float, high: float) -> str:
    """A weight too high that would be usual had it been stated in pounds."""
    kilograms = exact(weight.value) * _TABLES["units"]["kg_per_pound"]
    return (
        _(": entered in pounds? ({kilograms} kg)", kilograms=number_text(kilograms)) if low <= kilograms <= high else ""
    )
