"""What one rule set changes against another: every entry that is added, left out or different, for who approves it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any

from dosing.ground.facts import Amount
from dosing.ground.text import amount_text
from dosing.rules.plain import AMOUNTS, source_told
from dosing.rules.rule_set import RuleSet, Source

Path = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """One entry that differs: what it was (None: it is new) and what it becomes (None: it is left out)."""

    entry: str
    before: str | None
    after: str | None


def changes(before: RuleSet, after: RuleSet) -> list[Change]:
    """All differences in content, in the order of entries; none where the digests are the same."""
    return [
        Change(
            " › ".join(path),
            None if old is None else _told(old, before.sources, path[-1]),
            None if new is None else _told(new, after.sources, path[-1]),
        )
        for path, old, new in _differences((), before.content, after.content)
    ]


def _differences(path: Path, old: Any, new: Any) -> Iterator[tuple[Path, Any, Any]]:
    if old == new and _text(old) == _text(new):
        return
    if isinstance(old, dict) and isinstance(new, dict) and (not path or _holds_tables(old, new)):
        for key in [*old, *(key for key in new if key not in old)]:
            yield from _differences((*path, key), old.get(key), new.get(key))
    elif _are_tables(old) and _are_tables(new):
        yield from _in_lists(path, old, new)
    else:
        yield path, old, new


def _in_lists(path: Path, old: list[Any], new: list[Any]) -> Iterator[tuple[Path, Any, Any]]:
    """What was put in, taken out or replaced, the rest of the list standing where it stood."""
    matcher = SequenceMatcher(None, [_text(item) for item in old], [_text(item) for item in new], autojunk=False)
    for what, start, end, first, last in matcher.get_opcodes():
        if what == "replace" and end - start == last - first:
            for number in range(end - start):
                place = (*path, str(first + number + 1))
                yield from _differences(place, old[start + number], new[first + number])
        elif what != "equal":
            yield from (((*path, str(number + 1)), old[number], None) for number in range(start, end))
            yield from (((*path, str(number + 1)), None, new[number]) for number in range(first, last))


def _are_tables(value: Any) -> bool:
    return isinstance(value, list) and any(isinstance(item, dict) for item in value)


def _holds_tables(*tables: Mapping[str, Any]) -> bool:
    """Whether the change lies deeper: a table of numbers is told whole, with its source."""
    return any(isinstance(item, dict) or _are_tables(item) for table in tables for item in table.values())


def _text(value: Any) -> str:
    return json.dumps(value, sort_keys=True)


def _within(value: Any, sources: Mapping[str, Source], key: str) -> str:
    told = _told(value, sources, key)
    return f"({told})" if isinstance(value, dict) else told


def _told(value: Any, sources: Mapping[str, Source], key: str = "") -> str:
    """A value in words, each source by its text and mark."""
    if key in ("source", "starts_by_order", "cosign") and value in sources:
        return source_told(sources[value])
    if isinstance(value, dict):
        return "; ".join(f"{name.replace('_', ' ')} {_within(item, sources, name)}" for name, item in value.items())
    if isinstance(value, list):
        return ", ".join(_told(item, sources) for item in value) or "none"
    if key in AMOUNTS and isinstance(value, str):
        number, _, unit = value.partition(" ")
        return amount_text(Amount(float(number), unit))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
