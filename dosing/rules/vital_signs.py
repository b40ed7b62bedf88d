"""The limits of vital signs in a rule set."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated

from dosing.ground.measurements import MEASUREMENTS
from dosing.rules.parts import Figure, Source
from dosing.rules.shape import Mark, OneOf, Unit

UNITS: Mapping[str, str] = {each.name: each.in_rules for each in MEASUREMENTS if each.alarm and each.range}
SCALES: Mapping[str, frozenset[str]] = {"avpu": frozenset("AVPU")}
LIMITS = ("danger_low", "warning_low", "warning_high", "danger_high")
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
        if self.from_days is None and self.under_days is None:
            return True
        if days is None:
            return False
        return days >= (self.from_days or 0) and (self.under_days is None or days < self.under_days)

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
        for name in (*LIMITS, "clear"):
            figure: Figure | None = getattr(self, name)
            if figure is not None:
                yield name, figure
