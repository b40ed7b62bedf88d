"""The numbers that are data: TOML files beside the modules that read them, each table with its source."""

from __future__ import annotations

import tomllib
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

MARKS = frozenset({"read", "second-hand", "memory", "our choice"})


class TableFaultError(ValueError):
    """A table of a shipped data file lacks its source or says something unknown about it."""


@cache
def load(name: str) -> dict[str, dict[str, Any]]:
    """Read ``<name>.toml`` once; ``name`` begins with the folder, as ``patient/growth``.

    Decimals become exact fractions, so that 0.85 x 80 is 68 and not a neighbor of it. Raises TableFaultError.
    """
    tables = tomllib.loads((Path(__file__).parents[1] / f"{name}.toml").read_text("utf-8"), parse_float=Fraction)
    for title, table in tables.items():
        if not table.get("source") or table.get("mark") not in MARKS:
            raise TableFaultError(f"{name}.toml, [{title}]: needs a source and a mark")
    return tables
