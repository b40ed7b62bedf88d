"""The shape of a rule set as JSON Schema, draft 2020-12: a closed object for each table."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from dataclasses import is_dataclass
from typing import Any

from dosing.ground.facts import Amount
from dosing.ground.units import DOSE
from dosing.load import left_out
from dosing.rules.rule_set import RuleSet, Source
from dosing.rules.shape import Entry, In, Keys, Longest, Mark, Named, OneOf, Sign, Unit, entries

Schema = dict[str, Any]
_TEXT: Schema = {"type": "string", "pattern": r"\S"}
_BOUNDS: Mapping[Sign, Schema] = {
    Sign.ABOVE_ZERO: {"exclusiveMinimum": 0},
    Sign.FROM_ZERO: {"minimum": 0},
    Sign.BELOW_ZERO: {"exclusiveMaximum": 0},
}


def schema() -> Schema:
    """The whole schema, each table among its ``$defs``."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Rule set",
        **_table(RuleSet),
        "$defs": {kind.__name__: _table(kind) for kind in tables()[1:]},
    }


def tables() -> list[type]:
    """Each structure that is a table of its own, in the order in which they are mentioned, the file itself first."""
    found: list[type] = [RuleSet]
    for kind in found:
        found += dict.fromkeys(each for entry in flat(kind) if (each := table_of(entry)) and each not in found)
    return found


def table_of(entry: Entry) -> type | None:
    """The structure of the table, or the tables, that stand there; None where none does."""
    while entry.by in (tuple, Mapping) and not entry.mark(Keys):
        entry = entry.within()
    is_table = entry.by in (Mark.DEFINED, Mark.FLAT) or (is_dataclass(entry.by) and entry.by is not Source)
    return entry.holds if is_table else None


def flat(kind: type) -> list[Entry]:
    """The entries of such a table, with those that another structure tells of it."""
    return [each for entry in entries(kind) for each in (flat(entry.holds) if Mark.FLAT in entry.marks else [entry])]


def needed(kind: type, entry: Entry) -> bool:
    """Whether an entry of this structure's table must be there: nothing holds where it is left out."""
    return entry.must and entry.key not in left_out.of(kind)


def told(kind: type) -> str:
    """What the structure is, in the words of its docstring."""
    return (inspect.getdoc(kind) or "").replace("``", "`")


def _table(kind: type) -> Schema:
    there = flat(kind)
    sourced = {entry.key: ["source"] for entry in there if Mark.SOURCED in entry.marks}
    return {
        "description": told(kind),
        **_closed({entry.key: _entry(entry) for entry in there}, [entry.key for entry in there if needed(kind, entry)]),
        **({"dependentRequired": sourced} if sourced else {}),
    }


def _closed(properties: Schema, required: list[str]) -> Schema:
    return {"type": "object", "properties": properties, "required": required, "additionalProperties": False}


def _entry(entry: Entry) -> Schema:
    means = entry.mark(str)
    return _value(entry) | ({"description": means} if means else {})


def _value(entry: Entry) -> Schema:
    by_type = _BY_TYPE.get(entry.by)
    return by_type(entry) if by_type else {"$ref": f"#/$defs/{entry.holds.__name__}"}


def _number(entry: Entry) -> Schema:
    return {"type": "number", **_BOUNDS[entry.sign]}


def _figure(entry: Entry) -> Schema:
    unit = (entry.mark(Unit) or Unit()).name
    parts = {"value": _number(entry), "unit": {"const": unit} if unit else _TEXT, "source": _TEXT}
    return _closed(parts, [key for key in parts if unit or key != "unit"])


def _text(entry: Entry) -> Schema:
    one_of, within, longest = entry.mark(OneOf), entry.mark(In), entry.mark(Longest)
    if one_of:
        return {"enum": sorted(one_of.words)}
    if within:
        return {"type": "string", "pattern": f"^({within.units.pattern})$"}
    return _TEXT | ({"maxLength": longest.characters} if longest else {})


def _amount(entry: Entry) -> Schema:
    units = (entry.mark(In) or In(DOSE, "")).units.pattern
    return {"type": "string", "pattern": f"^[0-9.]+(e-?[0-9]+)? ({units})$"}


def _list(entry: Entry) -> Schema:
    return {"type": "array", "items": _value(entry.within())} | ({"minItems": 1} if entry.must else {})


def _by_name(entry: Entry) -> Schema:
    keys, one_of, named = entry.mark(Keys), entry.mark(OneOf), entry.mark(Named)
    if keys:
        return _closed({key: _value(entry.within(key)) for key in keys.units}, [*keys.units])
    spelt = {"pattern": f"^{named.spelling.pattern}$"} if named else {"enum": sorted(one_of.words)} if one_of else {}
    return {
        "type": "object",
        **({"propertyNames": spelt} if spelt else {}),
        "additionalProperties": _value(entry.within()),
        **({"minProperties": 1} if entry.must and entry.within().holds is not str else {}),
    }


_BY_TYPE: Mapping[Any, Callable[[Entry], Schema]] = {
    str: _text,
    bool: lambda _: {"type": "boolean"},
    float: _number,
    Unit: _figure,
    Source: lambda _: _TEXT,
    Amount: _amount,
    frozenset: _list,
    tuple: _list,
    Mapping: _by_name,
}
