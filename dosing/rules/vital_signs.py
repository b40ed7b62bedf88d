"""The limits of vital signs in a rule set."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from dosing.ground.measurements import MEASUREMENTS
from dosing.rules.parts import Figure, Source

UNITS: Mapping[str, str] = {each.name: each.in_rules for each in MEASUREMENTS if each.alarm and each.range}
SCALES: Mapping[str, frozenset[str]] = {"avpu": frozenset("AVPU")}
LIMITS = ("danger_low", "warning_low", "warning_high", "danger_high")


@dataclass(frozen=True, slots=True, kw_only=True)
class VitalSignRule:
    """From which value on a measurement is a warning or a danger, for an age in days.

    Of those that fit the last decides. Values at a limit are beyond it. It is fine again ``clear_by`` within the
    outermost limit. ``danger`` and ``warning`` are the letters of a scale.
    """

    measurement: str
    from_days: float | None = None
    under_days: float | None = None
    danger_low: Figure | None = None
    warning_low: Figure | None = None
    warning_high: Figure | None = None
    danger_high: Figure | None = None
    clear: Figure | None = None
    danger: frozenset[str] = frozenset()
    warning: frozenset[str] = frozenset()
    source: Source | None = None

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
