"""A rule set with some of its numbers changed one by one: what numbers an entry holds, the content with new ones."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from dosing.rules.plain import AMOUNTS

Content = Mapping[str, Any]
NUMBER = re.compile(r"-?\d{1,9}(\.\d{1,9})?")


class Number(NamedTuple):
    """One number of an entry as a text, with its unit; ``stated`` where the unit is said with it and may change."""

    key: str
    value: str
    unit: str
    stated: bool


class BadNumber(ValueError):
    """A text that is no number; ``key`` says of which."""

    def __init__(self, key: str, text: str) -> None:
        super().__init__(f"{text!r} is not a number: use digits, with a decimal point if needed")
        self.key = key


@dataclass(frozen=True, slots=True, kw_only=True)
class Amendment:
    """New numbers for one entry of a rule set file, where they come from, and why.

    ``entry`` is its place (``treatments.epinephrine-push-dose.bands.3.most``), ``numbers`` are by key, each with its
    unit; ``before`` is the entry as it stood when this was asked for. ``source`` names a source of the set, else
    ``text`` and ``mark`` tell a new one.
    """

    entry: str
    numbers: Mapping[str, tuple[str, str]]
    reason: str
    before: Mapping[str, Any] = field(default_factory=dict)
    source: str = ""
    text: str = ""
    mark: str = ""


def entry_in(content: Content, entry: str) -> dict[str, Any] | None:
    """The table at this place if it holds numbers and names a source; None where there is no such table."""
    found: Any = content
    for key in entry.split("."):
        if isinstance(found, list):
            found = found[int(key)] if key.isdigit() and int(key) < len(found) else None
        else:
            found = found.get(key) if isinstance(found, dict) else None
    return found if isinstance(found, dict) and "source" in found and numbers_of(found) else None


def numbers_of(table: Mapping[str, Any]) -> list[Number]:
    """The numbers of an entry that its source stands for, in the order of the file."""
    return list(_numbers(table, ""))


def _numbers(table: Mapping[str, Any], around: str) -> Iterator[Number]:
    for key, value in table.items():
        if isinstance(value, dict):
            if value and not around and all(_is_number(each) for each in value.values()):
                yield from _numbers(value, f"{key}.")
        elif _is_number(value):
            yield Number(f"{around}{key}", _written(value), str(table.get("unit", "")) if key == "value" else "", False)
        elif key in AMOUNTS and isinstance(value, str):
            number, _, unit = value.partition(" ")
            yield Number(f"{around}{key}", number, unit, True)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _written(value: float) -> str:
    return f"{value:.9f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def entries_in(content: Content) -> Iterator[str]:
    """The place of every entry whose numbers can be changed one by one: not those of recipes, which hang together."""
    yield from _places(content, "")


def _places(value: Any, path: str) -> Iterator[str]:
    within = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    if isinstance(value, dict) and "source" in value and numbers_of(value):
        yield path
    for key, inner in within:
        if key not in ("recipe", "mixes"):
            yield from _places(inner, f"{path}.{key}".lstrip("."))


def amended(content: Content, amendments: Iterable[Amendment], **named: str) -> dict[str, Any]:
    """The content with these numbers, and with what is ``named`` of name, version and title; raises BadNumber.

    An amendment whose entry is another now than it was is left out: see ``is_stale``.
    """
    changed: dict[str, Any] = copy.deepcopy(dict(content))
    for each in amendments:
        table = entry_in(changed, each.entry)
        if table is None or is_stale(content, each):
            continue
        for key, (value, unit) in each.numbers.items():
            _put(table, key, value, unit)
        table["source"] = each.source or _source(changed, each)
    return changed | named


def is_stale(content: Content, amendment: Amendment) -> bool:
    """Whether its entry is not what it was when the change was asked for."""
    return entry_in(content, amendment.entry) != dict(amendment.before)


def _put(table: dict[str, Any], key: str, value: str, unit: str) -> None:
    around, _, name = key.rpartition(".")
    if not NUMBER.fullmatch(value):
        raise BadNumber(key, value)
    within = table[around] if around else table
    if isinstance(within[name], str):
        within[name] = f"{value} {unit}"
    else:
        within[name] = float(value) if "." in value else int(value)


def _source(content: dict[str, Any], amendment: Amendment) -> str:
    """The name of the source that the amendment tells, put among the others unless it is there."""
    sources: dict[str, Any] = content["sources"]
    told = {"text": amendment.text, "mark": amendment.mark}
    known = next((name for name, each in sources.items() if each == told), "")
    free = (f"changed-{number}" for number in range(1, len(sources) + 2))
    name = known or next(name for name in free if name not in sources)
    sources[name] = told
    return name
