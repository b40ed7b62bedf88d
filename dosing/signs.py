"""What besides the pressure speaks for poor perfusion. Nothing here ever says that perfusion is adequate."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from dosing.children import heart_rate_band, shock_index_limit
from dosing.exact import exact, plain, shown
from dosing.facts import Patient, Reading
from dosing.tables import load

_LIMITS = load("age_tables")["perfusion"]
_NOT_ALERT = {"V": "responds to voice only", "P": "responds to pain only", "U": "unresponsive"}
_BEST = {"eye": 4, "verbal": 5, "motor": 6}


def signs(reading: Reading, patient: Patient) -> list[str]:
    """Short texts such as ``cap refill 4 s`` or ``shock index 1.33``; what was not measured gives none."""
    return [
        *_refill(reading.cap_refill_s),
        *_alertness(reading),
        *_shock_index(reading, patient),
        *_lactate(reading.lactate_mmol_l),
        *_heart_rate(reading.hr, patient),
    ]


def gcs_total(gcs: int | Mapping[str, int] | None) -> int | None:
    """The sum of eye, verbal and motor, 3-15; None where a part could not be tested."""
    if gcs is None or isinstance(gcs, int):
        return gcs
    return sum(gcs[part] for part in _BEST) if all(gcs.get(part) is not None for part in _BEST) else None


def _refill(seconds: float | None) -> Iterator[str]:
    if seconds is not None and seconds >= _LIMITS["cap_refill_s_from"]:
        yield f"cap refill {plain(exact(seconds))} s"


def _alertness(reading: Reading) -> Iterator[str]:
    if reading.avpu in _NOT_ALERT:
        yield _NOT_ALERT[reading.avpu]
    total = gcs_total(reading.gcs)
    if total is not None and total < _LIMITS["gcs_full"]:
        yield f"GCS {total}"
    elif total is None and isinstance(reading.gcs, Mapping):
        parts = [
            f"{part} {reading.gcs[part]}" for part, best in _BEST.items() if (reading.gcs.get(part) or best) < best
        ]
        if parts:
            yield f"GCS {', '.join(parts)}"


def _shock_index(reading: Reading, patient: Patient) -> Iterator[str]:
    limit = shock_index_limit(patient.age)
    if reading.hr is None or not reading.sbp or limit is None:
        return
    hr, sbp = exact(reading.hr), exact(reading.sbp)
    if hr > limit * sbp:
        yield f"shock index {shown(Fraction(hr) / sbp, places=2, above=(limit,))}"


def _lactate(mmol_l: float | None) -> Iterator[str]:
    if mmol_l is not None and mmol_l >= _LIMITS["lactate_mmol_l_from"]:
        yield f"lactate {plain(exact(mmol_l))} mmol/L"


def _heart_rate(rate: float | None, patient: Patient) -> Iterator[str]:
    low, high = heart_rate_band(patient.age)
    if rate is not None and not low <= rate <= high:
        yield f"heart rate {shown(exact(rate), below=(low,), above=(high,))}"
