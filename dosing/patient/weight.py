"""A child's weight by its age, from published formulas: always an estimate. The formulas stand in ``weights.toml``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from dosing.ground.facts import Age, Weight
from dosing.ground.language import gettext as _
from dosing.ground.language import words
from dosing.ground.patient import MONTHS_A_YEAR, completed_months
from dosing.ground.tables import load
from dosing.ground.text import number_text
from dosing.rules.rule_set import Source

_TABLES = load("patient/weights")
_AGES = _TABLES["default"]["ages"]
FORMULAS = tuple(name for name in _TABLES if name != "default")


@dataclass(frozen=True, slots=True)
class Estimate:
    """A weight in kg by age, and the formula that gave it; ``bias`` says how far it errs on average at that age."""

    kilograms: Fraction
    formula: str
    bias: str

    @property
    def weight(self) -> Weight:
        """The weight as an entry states it, basis ``age``."""
        return Weight(float(self.kilograms), "kg", "age")

    @property
    def text(self) -> str:
        """``by age: 22 kg (estimate)``."""
        return _("by age: {kilograms} kg (estimate)", kilograms=number_text(self.kilograms))

    @property
    def source(self) -> str:
        """The formula with its source and mark, and its bias with the sample."""
        table = _TABLES[self.formula]
        return f"{table['title']}: {table['source']} [{table['mark']}]; {self.bias}"


def by_age(age: Age | None, formula: str | None = None) -> Estimate | None:
    """The estimate for an age by the formula that is offered at it, or by another of ``FORMULAS``.

    None outside the formula's ages and without an age. Raises KeyError for a formula that ``weights.toml`` lacks.
    """
    return None if age is None else _at(completed_months(age), formula)


def offered() -> Iterator[tuple[str, str, Source]]:
    """Which formula is offered at which ages, for a person to read: ages, formula, and its source with its bias."""
    start = 0
    for each in _AGES:
        table, end = _TABLES[each["formula"]], each["under_months"]
        parts = [part for part in table["parts"] if start < part["under_months"] and part["from_months"] < end]
        start, first = end, max(start, parts[0]["from_months"])
        unit, months = ("years", MONTHS_A_YEAR) if first >= MONTHS_A_YEAR else ("months", 1)
        told = "; ".join([table["source"], *(_bias_text(part["bias"][0]) for part in parts)])
        ages = f"{first // months}–{end // months - 1} {words(unit)}"
        yield ages, table["title"], Source(each["formula"], told, table["mark"])


def why() -> tuple[str, Source]:
    """Why these formulas are offered."""
    table = _TABLES["default"]
    return table["reason"], Source("default", table["source"], table["mark"])


def steps() -> list[dict[str, Any]]:
    """What is offered at which age, for a page that has no link: each with the completed months that it holds for."""
    found: list[dict[str, Any]] = []
    for month in range(_AGES[-1]["under_months"]):
        estimate = _at(month, None)
        if estimate is None:
            continue
        told = {"kg": float(estimate.kilograms), "text": estimate.text.capitalize(), "source": estimate.source}
        if not found or not told.items() <= found[-1].items():
            found.append({"from_months": month, **told})
        found[-1]["under_months"] = month + 1
    return found


def _at(months: int, formula: str | None) -> Estimate | None:
    name: str = formula or next((each["formula"] for each in _AGES if months < each["under_months"]), "")
    for part in _TABLES[name]["parts"] if name else ():
        if part["from_months"] <= months < part["under_months"]:
            return Estimate(_kilograms(part, months), name, _bias_text(part["bias"][0]))
    return None


def _kilograms(part: Mapping[str, Any], months: int) -> Fraction:
    grown = part.get("per_month", 0) * months + part.get("per_year", 0) * (months // MONTHS_A_YEAR)
    return Fraction(part["base"] + grown)


def _bias_text(bias: Mapping[str, Any]) -> str:
    told = {"percent": number_text(abs(bias["percent"])), "of": bias["of"], "mark": bias["mark"]}
    if bias["percent"] < 0:
        return _("on average {percent} % too light, {of} [{mark}]", **told)
    return _("on average {percent} % too heavy, {of} [{mark}]", **told)
