"""Drafts of rule sets: the demonstration rules with one entry left out or replaced."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

from dosing.load import reader

CONTENT = reader.load_shipped("demonstration").content
REPLACED_BY: tuple[Any, ...] = (True, -1, 1e400, "", "nothing that is known", [], {}, ["nothing that is known"], [1])
NAMED = ("sources", "tall_man", "findings", "flow", "treatments")  # tables whose keys are names
Path = tuple[str | int, ...]


def places() -> Iterator[Path]:
    """One place of each kind: the first band stands for all bands, the first recipe for all recipes."""
    seen = set()
    for path in _paths(CONTENT):
        kind = tuple("*" if _is_name(path, number) else part for number, part in enumerate(path))
        if path and kind not in seen:
            seen.add(kind)
            yield path


def _paths(value: Any, path: Path = ()) -> Iterator[Path]:
    yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in items:
        yield from _paths(item, (*path, key))


def _is_name(path: Path, number: int) -> bool:
    named = number == 1 and path[0] in NAMED
    return named or isinstance(path[number], int) or (number > 0 and path[number - 1] == "ways")


def mutations() -> Iterator[tuple[Path, Any, dict[str, Any]]]:
    """The demonstration rules, cut down to what a place needs, that place left out (None) or replaced by a value."""
    for path in places():
        yield path, None, _with(path, None, remove=True)
        for value in REPLACED_BY:
            yield path, value, _with(path, value)


def _with(path: Path, value: Any, remove: bool = False) -> dict[str, Any]:
    content = dict(_small(path))
    around: Any = content
    for key in path[:-1]:
        around[key] = copy.copy(around[key])
        around = around[key]
    if remove:
        del around[path[-1]]
    else:
        around[path[-1]] = value
    return content


def _small(path: Path) -> dict[str, Any]:
    """One treatment and those that it counts with: the others have no part in it, and take long to check."""
    treatments = CONTENT["treatments"]
    slug = (
        path[1] if path[0] == "treatments" and len(path) > 1 else "epinephrine-im" if path[0] == "names" else "atropine"
    )
    kept = {slug, *treatments[slug].get("shared", {}).get("treatments", [])}
    drugs = {treatments[each]["drug"] for each in kept}
    names = [each for each in CONTENT["names"] if each["drug"] in drugs]
    return {**CONTENT, "names": names, "treatments": {name: treatments[name] for name in treatments if name in kept}}
