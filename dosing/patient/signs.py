"""What besides the pressure speaks for poor perfusion. Nothing here ever says that perfusion is adequate."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, timedelta
from fractions import Fraction
from functools import lru_cache
from itertools import islice
from typing import Any

from msgspec import Struct

from dosing.ground.exact import Exact, exact, plain, shown
from dosing.ground.facts import Facts, Patient, Reading
from dosing.ground.language import gettext as _
from dosing.ground.phases import present_since
from dosing.ground.tables import load
from dosing.ground.text import minutes_text
from dosing.patient.children import heart_rate_band, shock_index_limit

_LIMITS = load("ground/age_tables")["perfusion"]
_COUNT_FOR = load("ground/age_tables")["signs_count_for"]
_NOT_ALERT = {"V": _("responds to voice only"), "P": _("responds to pain only"), "U": "unresponsive"}
_BEST = {"eye": 4, "verbal": 5, "motor": 6}
_PRESSURE = ("sbp", "map_reported", "bp_method")


class Signs(Struct, frozen=True):
    """The signs of a case: those that stand, and those too old to count as present, not measured since.

    ``taken_at`` says of each text that tells an age what it is without that, and when it was measured.
    """

    present: tuple[str, ...] = ()
    old: tuple[str, ...] = ()
    taken_at: Mapping[str, tuple[str, datetime]] = {}


def signs(reading: Reading, patient: Patient) -> list[str]:
    """Short texts such as ``cap refill 4 s`` or ``shock index 1.33``; what was not measured gives none."""
    return [text for told in _TOLD.values() for text in told(reading, patient)]


def signs_of_case(facts: Facts) -> Signs:
    """The signs by the newest value of each measurement; one older than the pressure says how much.

    One from before the pulse was lost or came back is old.
    Ages are counted to the newest set, so that nothing here reads a clock.
    """
    newest = max((known.taken_at for known in facts.latest.values()), default=facts.opened_at)
    pressures = [facts.latest[name].taken_at for name in _PRESSURE if name in facts.latest]
    pressure_at = max(pressures, default=newest)
    since = present_since(facts.phases)
    present: list[str] = []
    old: list[str] = []
    aged: dict[str, tuple[str, datetime]] = {}
    for name, reading in _newest_of_each(facts):
        age = newest - reading.taken_at
        counts = age <= timedelta(minutes=_COUNT_FOR[name]) and (since is None or reading.taken_at >= since)
        for bare in _TOLD[name](reading, facts.patient):
            text = f"{bare}{_of_which_rate(name, reading, facts)}"
            told = text if counts and reading.taken_at >= pressure_at else _aged(text, age)
            (present if counts else old).append(told)
            if told != text:
                aged[told] = text, reading.taken_at
    return Signs(tuple(present), tuple(old), aged)


def _of_which_rate(name: str, reading: Reading, facts: Facts) -> str:
    """The heart rate of a shock index where a newer one stands beside it; empty else."""
    rate = facts.latest.get("hr")
    if name != "shock_index" or reading.hr is None or rate is None or rate.taken_at <= reading.taken_at:
        return ""
    return _(" with HR {hr}", hr=plain(exact(reading.hr)))


def _aged(text: str, age: timedelta) -> str:
    minutes = age // timedelta(minutes=1)
    return _("{text}, {minutes} before", text=text, minutes=minutes_text(minutes)) if minutes else text


def _newest_of_each(facts: Facts) -> Iterator[tuple[str, Reading]]:
    """Each measurement's newest value, alone, by the name of its sign; the shock index never of two sets."""
    for name in _TOLD:
        if name == "shock_index":
            yield from ((name, each) for each in _newest_with_both(facts.readings))
        elif (known := facts.latest.get(name)) and not (name == "avpu" and _scored_since(facts, known.taken_at)):
            alone: dict[str, Any] = {name: known.value}
            yield name, Reading(taken_at=known.taken_at, **alone)


def _newest_with_both(readings: tuple[Reading, ...]) -> Iterator[Reading]:
    both = (each for each in reversed(readings) if each.sbp is not None and each.hr is not None)
    return islice(both, 1)


def _scored_since(facts: Facts, taken_at: datetime) -> bool:
    """Whether the finer scale has replaced the coarser one."""
    scored = facts.latest.get("gcs")
    if scored is None or scored.taken_at <= taken_at:
        return False
    score: Any = scored.value
    return gcs_total(score) is not None


def gcs_total(gcs: int | Mapping[str, int] | None) -> int | None:
    """The sum of eye, verbal and motor, 3-15; None where a part could not be tested."""
    if gcs is None or isinstance(gcs, int):
        return gcs
    return sum(gcs[part] for part in _BEST) if all(gcs.get(part) is not None for part in _BEST) else None


def _refill(reading: Reading, patient: Patient) -> Iterator[str]:
    seconds = reading.cap_refill_s
    if seconds is not None and seconds >= _LIMITS["cap_refill_s_from"]:
        yield _("cap refill {seconds} s", seconds=plain(exact(seconds)))


def _response(reading: Reading, patient: Patient) -> Iterator[str]:
    if reading.avpu in _NOT_ALERT:
        yield _NOT_ALERT[reading.avpu]


def _score(reading: Reading, patient: Patient) -> Iterator[str]:
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
    if index := _high_index(reading.hr, reading.sbp, limit):
        yield _("shock index {fraction}", fraction=index)


# Each look at a case asks for the same few dozen again and again.
@lru_cache(maxsize=4096)
def _high_index(hr: float, sbp: float, limit: Exact) -> str:
    """The shock index where it lies above its limit; empty else."""
    index = Fraction(exact(hr)) / exact(sbp)
    return shown(index, places=2, above=(limit,)) if index > limit else ""


def _lactate(reading: Reading, patient: Patient) -> Iterator[str]:
    mmol_l = reading.lactate_mmol_l
    if mmol_l is not None and mmol_l >= _LIMITS["lactate_mmol_l_from"]:
        yield _("lactate {mmol_l} mmol/L", mmol_l=plain(exact(mmol_l)))


def _heart_rate(reading: Reading, patient: Patient) -> Iterator[str]:
    rate = reading.hr
    low, high = heart_rate_band(patient.age)
    if rate is not None and not low <= rate <= high:
        yield _("heart rate {rate}", rate=shown(exact(rate), below=(low,), above=(high,)))


# In the order of the contract.
_TOLD: dict[str, Callable[[Reading, Patient], Iterator[str]]] = {
    "cap_refill_s": _refill,
    "avpu": _response,
    "gcs": _score,
    "shock_index": _shock_index,
    "lactate_mmol_l": _lactate,
    "hr": _heart_rate,
}
BEDSIDE = _TOLD.keys() - {"hr", "shock_index"}  # somebody must look for them; no monitor shows them
