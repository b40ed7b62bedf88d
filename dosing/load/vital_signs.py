"""Reads the limits of vital signs, and says what is wrong with them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from dosing.load.table import Table
from dosing.rules.vital_signs import LIMITS, SCALES, UNITS, VitalSignRule

_SOURCED = frozenset({"from_days", "under_days", "danger", "warning", "source"})
NEEDED = ("hr", "spo2", "rr", "glucose_mg_dl", "gcs", "avpu")


def read_vital_sign(table: Table) -> VitalSignRule:
    """One band of limits; its faults are noted in the table's book."""
    measurement = table.word("measurement", UNITS.keys() | SCALES.keys())
    letters = SCALES.get(measurement, frozenset[str]())
    rule = VitalSignRule(
        measurement=measurement,
        from_days=table.number("from_days"),
        under_days=table.number("under_days"),
        **{name: table.figure(name) for name in (*LIMITS, "clear")},
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
    known = [(name, limit.value) for name in LIMITS if (limit := getattr(rule, name)) is not None]
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
