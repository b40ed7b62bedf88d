"""The limits of vital signs and of a pressure too high in a rule set."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated

from dosing.ground.measurements import MEASUREMENTS
from dosing.rules.parts import Figure, Injuries, Source
from dosing.rules.shape import Mark, OneOf, Unit

UNITS: Mapping[str, str] = {each.name: each.in_rules for each in MEASUREMENTS if each.alarm and each.range}
SCALES: Mapping[str, frozenset[str]] = {"avpu": frozenset("AVPU")}
LIMITS = ("danger_low", "warning_low", "warning_high", "danger_high")
TOO_HIGH = ("warning_sbp", "danger_sbp", "warning_dbp", "danger_dbp")
Measured = Annotated[Figure | None, Unit()]
Letters = Annotated[frozenset[str], OneOf(SCALES["avpu"]), Mark.SOURCED]


@dataclass(frozen=True, slots=True, kw_only=True)
class VitalSignRule:
    """From which value on a measurement is a warning or a danger. Of those that fit an age the last decides.

    Values at a limit are beyond it. Each number is in the unit of the measurement.
    """

    measurement: Annotated[str, OneOf(UNITS.keys() | SCALES.keys())]
    from_days: Annotated[float | None, Mark.SOURCED, "this age in days and more"] = None
    under_days: Annotated[float | None, Mark.SOURCED, "under this age in days"] = None
    danger_low: Measured = None
    warning_low: Measured = None
    warning_high: Measured = None
    danger_high: Measured = None
    clear: Annotated[Measured, "how far within the outermost limit it is fine again"] = None
    danger: Annotated[Letters, "of a scale: the letters that are a danger"] = frozenset()
    warning: Annotated[Letters, "of a scale: the letters that are a warning"] = frozenset()
    source: Annotated[Source | None, "needed beside an age and beside letters"] = None

    @property
    def unit(self) -> str:
        """In which the measurement is read; empty for a scale."""
        return UNITS.get(self.measurement, "")

    @property
    def clear_by(self) -> float:
        """How far within the limits it must be to be clearly fine."""
        return self.clear.value if self.clear else 0

    def fits(self, days: float | None) -> bool:
        """Whether it is for somebody of this age; an age nobody knows lies in no band with an edge."""
        return _in_band(days, self.from_days, self.under_days)

    def danger_of(self, side: int) -> float | None:
        """The limit of danger on one side, -1 low or 1 high."""
        limit = self.danger_low if side < 0 else self.danger_high
        return None if limit is None else limit.value

    def outer(self, side: int) -> float | None:
        """The limit that is passed first on one side."""
        limit = self.warning_low if side < 0 else self.warning_high
        return self.danger_of(side) if limit is None else limit.value

    def figures(self) -> Iterator[tuple[str, Figure]]:
        """Its numbers by their names."""
        yield from _figures(self, (*LIMITS, "clear"))


Pressure = Annotated[Figure | None, Unit("mmHg")]


@dataclass(frozen=True, slots=True, kw_only=True)
class HighPressureRule:
    """From which pressure on it is too high, and for whom. Of those that fit the lowest decides, limit by limit.

    Values at a limit are beyond it; what is not said about the patient is no condition.
    """

    because: Annotated[str, "who these are, as the alert says it"] = ""
    from_days: Annotated[float | None, Mark.SOURCED, "this age in days and more"] = None
    under_days: Annotated[float | None, Mark.SOURCED, "under this age in days"] = None
    pregnant_from_weeks: Annotated[float | None, Mark.SOURCED, "pregnant for so many weeks and more"] = None
    injuries: Annotated[Injuries, Mark.SOURCED, "with one of these injuries"] = frozenset()
    warning_sbp: Pressure = None
    danger_sbp: Pressure = None
    warning_dbp: Pressure = None
    danger_dbp: Pressure = None
    clear: Annotated[Pressure, "how far below the lowest of them it is fine again"] = None
    source: Annotated[Source | None, "needed beside an age, weeks or injuries"] = None

    def fits(self, days: float | None, weeks: float | None, injuries: Collection[str]) -> bool:
        """Whether it is for somebody of this age, this far pregnant, with these injuries."""
        far = self.pregnant_from_weeks is None or (weeks is not None and weeks >= self.pregnant_from_weeks)
        hurt = not self.injuries or not self.injuries.isdisjoint(injuries)
        return far and hurt and _in_band(days, self.from_days, self.under_days)

    def figures(self) -> Iterator[tuple[str, Figure]]:
        """Its numbers by their names."""
        yield from _figures(self, (*TOO_HIGH, "clear"))


def _in_band(days: float | None, first: float | None, under: float | None) -> bool:
    if first is None and under is None:
        return True
    if days is None:
        return False
    return days >= (first or 0) and (under is None or days < under)


def _figures(rule: VitalSignRule | HighPressureRule, names: Iterable[str]) -> Iterator[tuple[str, Figure]]:
    for name in names:
        figure: Figure | None = getattr(rule, name)
        if figure is not None:
            yield name, figure
