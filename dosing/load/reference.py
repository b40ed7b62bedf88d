"""Writes the shape of a rule set down for others, as its structures state it: `python -m dosing.load.reference`.

For programs as JSON Schema beside the rule sets, for people who write one as a page of tables.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, get_args

from dosing.ground.facts import Amount
from dosing.load import left_out
from dosing.load.reader import SHIPPED
from dosing.load.schema import needed, schema, table_of, tables, told
from dosing.rules.rule_set import Figure, Source
from dosing.rules.shape import Entry, In, Keys, Longest, Mark, Named, OneOf, Unit, entries

PAGE = Path(__file__).parents[2] / "docs" / "rule_set.md"
_INTRODUCTION = """\
# What stands in a rule set file

Made by `python -m dosing.load.reference`. Rules support a decision: local protocol and the licensed clinician decide.

A rule set is a TOML file. `extends = "demonstration"` as its first entry puts it upon a set that ships: tables are
merged, lists go on, so it need say only what differs. What is misspelt, missing or makes no sense is named with its
entry and line, all at once, before anything comes into force.

- A **figure** is a number with its unit and source: `{ value = 2, unit = "min", source = "label" }`.
- An **amount** is a text: `"30 mL/kg"`, `"0.1 mcg/kg/min"`, `"2 bag"`.
- A **source** is the name of an entry of the table `sources`.
- Entries marked ● must be there.
"""
_PLAIN: Mapping[Any, str] = {str: "text", bool: "`true` or `false`", Amount: "amount", Source: "source"} | {
    Unit: "figure",
    Figure: "figure",
    float: "number",
}


def files() -> Mapping[Path, str]:
    """What is written where; in the schema each innermost list or object stands on one line."""
    shown = json.dumps(schema(), indent=1, ensure_ascii=False) + "\n"
    return {
        SHIPPED / "schema.json": re.sub(r"[\[{]\n[^\[\]{}]*[\]}]", lambda found: re.sub(r"\n *", " ", found[0]), shown),
        PAGE: "\n".join([_INTRODUCTION, *(line for kind in tables() for line in _table(kind))]),
    }


def _table(kind: type) -> Iterator[str]:
    yield from (f"## {_title(kind)}", "", told(kind), "", "| entry | | what stands there | meaning |")
    yield "| --- | --- | --- | --- |"
    for entry in entries(kind):
        key, must = ("", False) if entry.by is Mark.FLAT else (f"`{entry.key}`", needed(kind, entry))
        yield f"| {key} | {'●' if must else ''} | {_holds(entry)} | {_means(kind, entry)} |"
    yield ""


def _means(kind: type, entry: Entry) -> str:
    """What it means, and what holds where a set leaves it out."""
    means, left = entry.mark(str) or "", left_out.of(kind).get(entry.key)
    if left is None:
        return means
    holds = f"{left['value']:g} {left['unit']}" if isinstance(left, dict) else "those of `dosing/load/left_out.toml`"
    return f"{means}; left out: {holds}".removeprefix("; ")


def _title(kind: type) -> str:
    """The name of the structure as words."""
    return re.sub(r"(?<=[a-z])([A-Z])", lambda found: f" {found[1].lower()}", kind.__name__.removesuffix("Rule"))


def _holds(entry: Entry) -> str:
    """What stands there, in words."""
    if entry.by is Mapping:
        return _by_name(entry)
    if entry.by in (tuple, frozenset):
        return f"list of {_holds(entry.within()).removeprefix('one of ')}"
    if kind := table_of(entry):
        link = f"[{_title(kind)}](#{_title(kind).lower().replace(' ', '-')})"
        return f"all entries of {link}" if entry.by is Mark.FLAT else link
    if one_of := entry.mark(OneOf):
        return f"one of {_said(sorted(one_of.words))}"
    unit, within, longest = entry.mark(Unit), entry.mark(In), entry.mark(Longest)
    plain = within.words if within else _PLAIN[entry.by]
    of = f" in {unit.name}" if unit and unit.name else f" of at most {longest.characters} characters" if longest else ""
    return f"{plain}{of}, {entry.sign.value}" if entry.by in (Unit, float) else f"{plain}{of}"


def _by_name(entry: Entry) -> str:
    """What stands in a table of names."""
    keys, named, one_of = entry.mark(Keys), entry.mark(Named), entry.mark(OneOf)
    units = [f"`{key}`{unit and f' in {unit}'}" for key, unit in keys.units.items()] if keys else []
    names = ", ".join(units) or _said(sorted(one_of.words) if one_of else [])
    each = _PLAIN[get_args(entry.holds)[1]] if keys else _holds(entry.within())
    return f"table by name{f' ({named.words})' if named else names and f': {names}'}; each {each}"


def _said(words: Iterable[str]) -> str:
    return ", ".join(f"`{word}`" for word in words)


def main() -> None:
    """Write them."""
    for path, text in files().items():
        path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
