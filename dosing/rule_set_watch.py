"""The limits of vital signs in a rule set: what they are, how they are read, what may be wrong with them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from dosing.rule_set_parts import Figure, Source

if TYPE_CHECKING:
    from dosing.rule_set_table import Table

UNITS: Mapping[str, str] = {
    "hr": "beats per min",
    "spo2": "%",
    "rr": "breaths per min",
    "glucose_mg_dl": "mg/dL",
    "gcs": "points",
    "etco2": "mmHg",
    "temp_c": "°C",
}
SCALES: Mapping[str, frozenset[str]] = {"avpu": frozenset("AVPU")}
_SOURCED = frozenset({"from_days", "under_days", "danger", "warning", "source"})
NEEDED = ("hr", "spo2", "rr", "glucose_mg_dl", "gcs", "avpu")
_LIMITS = ("danger_low", "warning_low", "warning_high", "danger_high")


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
        for name in (*_LIMITS, "clear"):
            figure: Figure | None = getattr(self, name)
            if figure is not None:
                yield name, figure


def read_vital_sign(table: Table) -> VitalSignRule:
    """One band of limits; its faults are noted in the table's book."""
    measurement = table.word("measurement", UNITS.keys() | SCALES.keys())
    letters = SCALES.get(measurement, frozenset[str]())
    rule = VitalSignRule(
        measurement=measurement,
        from_days=table.number("from_days"),
        under_days=table.number("under_days"),
        **{name: table.figure(name) for name in (*_LIMITS, "clear")},
        danger=table.words("danger", frozenset("AVPU")),
        warning=table.words("warning", frozenset("AVPU")),
        source=table.source() if _SOURCED & table.values.keys() else None,
    )
    for fault in _faults(rule, letters):
        table.fault(*fault)
    table.close()
    return rule


def _faults(rule: VitalSignRule, letters: frozenset[str]) -> Iterator[tuple[str, str]]:
    for name, figure in rule.figures():
        if letters or (rule.unit and figure.unit != rule.unit):
            yield name, f"is stated in {figure.unit or 'nothing'}, {rule.measurement} in {rule.unit or 'letters'}"
    if not letters and (rule.danger or rule.warning):
        yield "danger", f"is stated in letters, {rule.measurement} in {rule.unit}"
    known = [(name, limit.value) for name in _LIMITS if (limit := getattr(rule, name)) is not None]
    for (lower, low), (upper, high) in pairwise(known):
        if low > high:
            yield lower, f"exceeds {upper}"
    edge = rule.under_days
    if edge is not None and edge <= (rule.from_days or 0):
        yield "under_days", f"is {edge}, not above from_days: it is for nobody"


def vital_sign_faults(rules: Sequence[VitalSignRule]) -> Iterator[tuple[str, str]]:
    """What no patient may be without: danger of each of these measurements, for adults and an age nobody knows."""
    for name in NEEDED:
        fitting = [rule for rule in rules if rule.measurement == name and rule.fits(None)]
        if not fitting or not (fitting[-1].danger_low or fitting[-1].danger):
            yield "watch.vital_signs", f"none of {name} says what is a danger for every adult"
