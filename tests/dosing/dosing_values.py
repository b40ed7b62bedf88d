"""The published values that the dosing tests are held against: ``tests/reference/dosing_values.csv``."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Any

import pytest

FILE = Path(__file__).parents[1] / "reference" / "dosing_values.csv"
with FILE.open(encoding="utf-8") as lines:
    ROWS = {row["id"]: row for row in csv.DictReader(lines)}


def rows(*ids: str) -> list[Any]:
    """The named rows as parameters, each under its own id."""
    return [pytest.param(ROWS[name], id=name) for name in ids]


def topic(name: str, pattern: str) -> list[Any]:
    """All rows of a topic whose input has a shape, with what the shape found: (row, match)."""
    found = ((row, re.search(pattern, row["input"])) for row in ROWS.values() if row["topic"] == name)
    return [pytest.param(row, match, id=row["id"]) for row, match in found if match]


def numbers(text: str) -> list[float]:
    """All numbers in a text, in order."""
    return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", text)]
