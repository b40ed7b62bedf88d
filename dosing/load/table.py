"""One table of a rule set file, read by the shape of its structure: a fault for each entry that is missing or wrong."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import isfinite
from typing import Any, TypeVar, get_args

from dosing.ground import text, units
from dosing.ground.facts import Amount
from dosing.load.book import Book
from dosing.load.sense import FAULTS, MADE
from dosing.load.size import read_float
from dosing.rules.rule_set import Figure, Source
from dosing.rules.shape import Entry, Keys, Longest, Mark, Named, OneOf, Sign, Unit, entries

Value = TypeVar("Value")
NOWHERE = Source("", "no source", "")
# What stands for an entry that must be there and cannot be read, so that the rest is read.
BLANK: Mapping[Any, Any] = {str: "", float: 0, Source: NOWHERE, frozenset: frozenset(), tuple: ()}


class Table:
    """A table at ``path``, within ``outer`` under ``key``; ``found`` is what has been read of it, by field."""

    def __init__(self, book: Book, path: str, values: Any, outer: Table | None = None, missing: bool = False) -> None:
        self.book, self.path, self.outer, self._missing = book, path, outer, missing
        self.key, self.found, self._asked = path.rpartition(".")[2], dict[str, Any](), set[str]()
        if not isinstance(values, dict):
            self.fault("", "is not a table")
            values = {}
        self.values: dict[str, Any] = values

    def fault(self, key: str, words: str) -> None:
        """Note what is wrong with one entry of this table, or with the table itself."""
        if not self._missing:  # else the table itself is named already
            self.book.fault(self.place(key), words)

    def place(self, key: str) -> str:
        """Where in the file an entry of this table stands; the table itself, for an empty key."""
        return ".".join(part for part in (self.path, key) if part)

    def take(self, entry: Entry, kinds: type | tuple[type, ...], what: str) -> Any:
        """The entry as it stands in the file, None where it is missing or of another kind."""
        self._asked.add(entry.key)
        if entry.key not in self.values:
            if entry.must and entry.key == "source":
                self.fault("", "a number lacks its source")
            elif entry.must:
                self.fault(entry.key, "is missing")
            return None
        value = self.values[entry.key]
        if not isinstance(value, kinds) or (isinstance(value, bool) and kinds is not bool):
            self.fault(entry.key, f"is not {what}")
            return None
        return value

    def table(self, entry: Entry) -> Table:
        """The table within this one."""
        value = self.take(entry, dict, "a table")
        inner = Table(self.book, self.place(entry.key), {} if value is None else value, self, value is None)
        inner.key = entry.key  # a name may hold a point
        return inner

    def around(self, name: str) -> Any:
        """What has been read of this field in the nearest table, from this one outward."""
        return self.found[name] if name in self.found else self.outer.around(name) if self.outer else None

    def close(self) -> None:
        """Name the entries that are no part of a rule set: a misspelt limit must not be dropped in silence."""
        for key in self.values.keys() - self._asked:
            self.fault(key, "is not a known entry")


def read(kind: type[Value], table: Table, **more: Any) -> Value | None:
    """The structure that a table tells, and ``more``; its faults are noted. None where it cannot be made."""
    found: Value | None = _structure(kind, table, **more)
    table.close()
    return found


def _structure(kind: Any, table: Table, **more: Any) -> Any:
    sources: dict[str, Source] = {}
    for entry in entries(kind):
        value = value_of(table, entry)
        if isinstance(value, Figure) and entry.holds is float:
            sources[entry.name], value = value.source, value.value
        if value is not None:
            table.found[entry.name] = value
    there = [entry for entry in entries(kind) if entry.name in table.found]
    if any(Mark.SOURCED in entry.marks for entry in there) and "source" not in table.values:
        table.fault("", "a number lacks its source")
    if any(entry.must and entry.name not in table.found for entry in entries(kind)):
        return None
    values = {entry.name: table.found[entry.name] for entry in there} | ({"sources": sources} if sources else {})
    made = kind(**values, **(MADE[kind](values, table.key, table.around) if kind in MADE else {}), **more)
    for key, words in FAULTS[kind](made) if kind in FAULTS else ():
        table.fault(key, words)
    return made


def value_of(table: Table, entry: Entry) -> Any:
    """What an entry says, where it is left out or wrong None, or what stands for it if it must be there."""
    if entry.key not in table.values and not entry.must:
        return None
    value = _READ.get(entry.by, _table)(table, entry)
    return BLANK.get(entry.by) if value is None and entry.must else value


def _table(table: Table, entry: Entry) -> Any:
    return read(entry.holds, table.table(entry))


def _text(table: Table, entry: Entry) -> str | None:
    found: str | None = table.take(entry, str, "a text")
    if found is None:
        return None
    longest = entry.mark(Longest)
    if not found.strip():
        table.fault(entry.key, "is empty")
    elif words := entry.refused(found):
        table.fault(entry.key, f"is {found!r}, not {words}")
    if longest and len(found) > longest.characters:
        table.fault(entry.key, f"is longer than {longest.characters} characters")
    return text.drug_text(found, table.around("tall_man") or {}) if Mark.LETTERED in entry.marks else found


_TAKES: Mapping[Sign, Callable[[float], bool]] = {
    Sign.ABOVE_ZERO: lambda value: value > 0,
    Sign.FROM_ZERO: lambda value: value >= 0,
    Sign.BELOW_ZERO: lambda value: value < 0,
}


def _number(table: Table, entry: Entry) -> float | None:
    found: float | None = table.take(entry, (int, float), "a number")
    if found is not None and not (isfinite(found) and _TAKES[entry.sign](found)):
        table.fault(entry.key, f"is {found}, not a number {entry.sign.value}")
        return None
    return found


def _figure(table: Table, entry: Entry) -> Figure | None:
    """A number with unit and source: ``{ value = 2, unit = "min", source = "…" }``."""
    inner, unit = table.table(entry), entry.mark(Unit) or Unit()
    value = _number(inner, Entry("value", "value", float, True, (entry.sign,)))
    said = value_of(inner, Entry("unit", "unit", str, bool(unit.name), ())) or ""
    if unit.name and said and said != unit.name:
        inner.fault("unit", f"is {said!r}: this number is read in {unit.name}")
    source = _source(inner, Entry("source", "source", Source, True, ()))
    inner.close()
    return None if value is None and not entry.must else Figure(value or 0, said, source or NOWHERE)


def _source(table: Table, entry: Entry) -> Source | None:
    """The source that an entry names."""
    name = table.take(entry, str, "the name of a source")
    sources: Mapping[str, Source] = table.around("sources") or {}
    if name is not None and name not in sources:
        table.fault(entry.key, f"the source {name!r} is not among the sources")
    return sources.get(name)


def _amount(table: Table, entry: Entry) -> Amount | None:
    """An amount such as ``"0.1 mg/mL"``."""
    found = table.take(entry, str, "a text")
    if found is None:
        return None
    number, _, unit = found.partition(" ")
    try:
        amount = Amount(read_float(number), unit)
        units.quantity(amount)
    except (ValueError, OverflowError) as error:
        table.fault(entry.key, f"{found!r} is not an amount: {error}")
        return None
    if words := entry.refused(unit):
        table.fault(entry.key, f"is {unit}, not {words}")
        return None
    return amount


def _list(table: Table, entry: Entry) -> Any:
    """A list of tables, or of words."""
    of, kind = get_args(entry.holds)[0], entry.by
    found = table.take(entry, list, "a list" if of is str else "a list of tables")
    if found == [] and entry.must:
        table.fault(entry.key, "is empty")
    if of is str:
        return None if found is None else kind(sorted(_words(table, entry, found)))
    path = table.place(entry.key)
    within = (Table(table.book, f"{path}.{number}", each, table) for number, each in enumerate(found or ()))
    return tuple(made for each in within if (made := read(of, each)) is not None)


def _words(table: Table, entry: Entry, found: list[Any]) -> set[str]:
    if not all(isinstance(item, str) and item.strip() for item in found):
        table.fault(entry.key, "is not a list of texts")
    stated = set(map(str, found))
    for word in sorted(stated):
        if words := entry.refused(word):
            table.fault(entry.key, f"holds {word!r}, not {words}")
    return stated


def _by_name(table: Table, entry: Entry) -> dict[str, Any]:
    """A table whose keys are names."""
    inner, keys, one_of, named = table.table(entry), entry.mark(Keys), entry.mark(OneOf), entry.mark(Named)
    known = keys.units if keys else [key for key in inner.values if not one_of or key in one_of.words]
    found = {key: value_of(inner, entry.within(key)) for key in known}
    inner.close()
    if entry.must and not found and get_args(entry.holds)[1] is not str:
        inner.fault("", "is empty")
    for key in found:
        if named and not named.spelling.fullmatch(key):
            inner.fault(key, f"is not a name here: {named.words}")
    return found


_READ: Mapping[Any, Callable[[Table, Entry], Any]] = {
    Mark.FLAT: lambda table, entry: _structure(entry.holds, table),
    Unit: _figure,
    str: _text,
    bool: lambda table, entry: table.take(entry, bool, "true or false"),
    float: _number,
    Source: _source,
    Amount: _amount,
    frozenset: _list,
    tuple: _list,
    Mapping: _by_name,
}
