"""Values that can be measured but seldom are, for a page to ask once. The bounds stand in ``unlikely.toml``."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from dosing.ground.exact import Exact, exact, plain
from dosing.ground.facts import Patient, Reading
from dosing.ground.language import gettext as _
from dosing.ground.measurements import BY_NAME, IN_OTHER_UNITS
from dosing.ground.tables import load
from dosing.patient.pressure import mean_of

_BOUNDS = load("patient/unlikely")
_SINGLE = [name for name in _BOUNDS if name in BY_NAME]


def unlikely(reading: Reading, patient: Patient) -> list[str]:
    """One short sentence for each value of the set that should be asked back, such as ``diastolic 12 mmHg``."""
    elsewhere = {told.name: name for name, told in IN_OTHER_UNITS.items() if getattr(reading, name) is not None}
    return [
        *(text for name in _SINGLE if name not in elsewhere for text in _outside(name, getattr(reading, name))),
        *(text for name in elsewhere.values() for text in _outside_in_other_unit(name, reading)),
        *_pulse_pressure(reading),
        *_map_difference(reading),
        *_pulseless(reading),
    ]


def bounds() -> dict[str, tuple[float | None, float | None]]:
    """Between which values nothing is asked, by measurement as it is sent, for a page that asks before it sends."""
    own = {name: (name, 1) for name in _BOUNDS}
    other = {name: (of.name, of.times) for name, of in IN_OTHER_UNITS.items()}
    return {
        name: (_side(known, "least", times), _side(known, "most", times))
        for name, (known, times) in (own | other).items()
    }


def _side(name: str, side: str, times: float) -> float | None:
    bound = _BOUNDS[name].get(side)
    return None if bound is None else float(bound / times)


def _outside(name: str, value: float | None) -> Iterator[str]:
    bound = _BOUNDS[name]
    if value is None:
        return
    if value < bound["least"]:
        yield _text(name, exact(value)) + _hint(bound, exact(value))
    elif value > bound.get("most", value):
        yield _text(name, exact(value))


def _outside_in_other_unit(name: str, reading: Reading) -> Iterator[str]:
    """What was told in another unit, with the value in the unit of the bounds, which decides."""
    known = IN_OTHER_UNITS[name].name
    bound, value = _BOUNDS[known], exact(getattr(reading, known))
    if bound["least"] <= value <= bound["most"]:
        return
    told = f"{BY_NAME[name].long} {plain(exact(getattr(reading, name)))} {BY_NAME[name].unit}"
    hint = f": {bound['hint_high']}" if value > bound["most"] else ""
    yield f"{told} ({plain(round(value))} {bound['unit']}){hint}"


def _text(name: str, value: Exact) -> str:
    called = BY_NAME[name].long if name in BY_NAME else name.replace("_", " ")
    return f"{called} {plain(value)} {_BOUNDS[name]['unit']}"


def _hint(bound: dict[str, Any], value: Exact) -> str:
    """What the number would be in the unit it may have been entered in."""
    if "hint" not in bound:
        return ""
    return f": {bound['hint']} ({plain(round(value * bound['factor']))} {bound['factor_unit']})"


def _pulse_pressure(reading: Reading) -> Iterator[str]:
    if reading.sbp is None or reading.dbp is None:
        return
    difference = exact(reading.sbp) - exact(reading.dbp)
    bound = _BOUNDS["pulse_pressure"]
    if not bound["least"] <= difference <= bound["most"]:
        yield _text("pulse_pressure", difference)


def _map_difference(reading: Reading) -> Iterator[str]:
    computed = mean_of(reading).computed
    if computed is None or reading.map_reported is None:
        return
    reported = exact(reading.map_reported)
    if abs(3 * reported - computed) > 3 * _BOUNDS["map_difference"]["most"]:
        yield _(
            "reported MAP {reported}, computed {computed}",
            reported=plain(reported),
            computed=plain(round(exact(float(computed) / 3))),
        )


def _pulseless(reading: Reading) -> Iterator[str]:
    if reading.hr == 0 and reading.sbp:
        yield _("heart rate 0 with a pressure: pulseless?")
