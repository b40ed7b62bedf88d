"""The published values that the pressure tests are held against: ``tests/reference/pressure_values.csv``."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Any

import pytest

ROWS = {
    row["id"]: row
    for row in csv.DictReader((Path(__file__).parents[1] / "reference" / "pressure_values.csv").open(encoding="utf-8"))
}


def params(*ids: str) -> list[Any]:
    """The named rows as parameters, each under its own id."""
    return [pytest.param(ROWS[name], id=name) for name in ids]


def numbers(text: str) -> list[float]:
    """All numbers in a text, in order."""
    return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", text)]


def pairs() -> list[Any]:
    """Every row of a systolic over a diastolic pressure with the MAP that belongs to it."""
    return [
        pytest.param(*(numbers(row["input"])), float(row["expected"]), id=name)
        for name, row in ROWS.items()
        if row["quantity"] in ("MAP", "mean BP -> MAP")
    ]
