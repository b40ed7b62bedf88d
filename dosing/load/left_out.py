"""What holds where a rule set leaves out an entry that is younger than some sets in use: numbers with their sources."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from dosing.rules.rule_set import RuleSet
from dosing.rules.shape import entries

_FILE = Path(__file__).with_suffix(".toml")
CONTENT: Mapping[str, Any] = tomllib.loads(_FILE.read_text(encoding="utf-8"))
TABLES: Mapping[str, Mapping[str, Any]] = {key: table for key, table in CONTENT.items() if key != "sources"}


def filled(content: dict[str, Any]) -> dict[str, Any]:
    """The content of a rule set with what its tables leave out, and the sources of that; as it is where nothing is.

    A table that is missing, or is none, stays so: that is a fault of its own.
    """
    added = {key: _added(content.get(key), table) for key, table in TABLES.items()}
    if not any(added.values()) or not isinstance(content.get("sources"), dict):
        return content
    more = {key: {**content[key], **entry} for key, entry in added.items() if entry}
    return {**content, **more, "sources": {**CONTENT["sources"], **content["sources"]}}


def of(kind: type) -> Mapping[str, Any]:
    """What this structure's table may leave out, and what holds then."""
    return next((TABLES[each.key] for each in entries(RuleSet) if each.key in TABLES and each.holds is kind), {})


def _added(table: Any, left_out: Mapping[str, Any]) -> dict[str, Any]:
    if not isinstance(table, dict):
        return {}
    return {key: value for key, value in left_out.items() if key not in table}
