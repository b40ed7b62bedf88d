"""The numbers behind the simulated bodies, read from ``effects.toml``, each with its mark and ground."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

FILE = Path(__file__).with_name("effects.toml")
MARKS = ("read", "second-hand", "memory", "our choice")


@dataclass(frozen=True, slots=True, kw_only=True)
class Drug:
    """How one drug acts: times, the level per kg with half of the effect, and the most it adds to each property."""

    unit: str
    onset_s: float
    half_life_min: float
    half_effect_per_kg: float
    tone: float
    contractility: float
    rate: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Clotting:
    """How one drug slows bleeding: the full dose per kg and the part of the bleeding that remains."""

    unit: str
    full_dose_per_kg: float
    bleeding_left: float


@dataclass(frozen=True, slots=True)
class Effects:
    """All numbers of the file without their marks."""

    body: Mapping[str, float]
    drugs: Mapping[str, Drug]
    clotting: Mapping[str, Clotting]
    look_again_min: Mapping[str, float]

    def look_again(self, treatment: str) -> float:
        """Minutes after its end at which a crew looks at what ``treatment`` did."""
        return self.look_again_min.get(treatment, self.look_again_min["other"])


def _values(table: Mapping[str, Any]) -> dict[str, Any]:
    """The table with each ``[value, mark, ground]`` row as its value alone."""
    return {key: row[0] if isinstance(row, list) else row for key, row in table.items()}


@cache
def load() -> Effects:
    """The shipped numbers; read once a process."""
    tables = tomllib.loads(FILE.read_text(encoding="utf-8"))
    return Effects(
        body=_values(tables["body"]),
        drugs={name: Drug(**_values(row)) for name, row in tables["drugs"].items()},
        clotting={name: Clotting(**_values(row)) for name, row in tables["clotting"].items()},
        look_again_min=_values(tables["look_again_min"]),
    )
