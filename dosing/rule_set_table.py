"""One table of a rule set file while it is read: typed entries, and a fault for each that is missing or misspelt."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Any

from dosing import units
from dosing.facts import Amount
from dosing.rule_set import Figure, Limit, Source, Strength
from dosing.rule_set_faults import Fault

_HEADER = re.compile(r"\s*(\[\[?)([^\[\]]+)\]")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=")
_NOWHERE = Source("", "no source", "")


class Book:
    """The file that is read: its sources, its faults, and where each entry stands in it."""

    def __init__(self, name: str, raw: str, base: dict[str, Any] | None = None) -> None:
        self.name, self.sources, self.faults = name, dict[str, Source](), list[Fault]()
        self._lines = _lines(raw, base or {})

    def fault(self, entry: str, text: str) -> None:
        """Note a fault at an entry; its line is that of the nearest entry around it that the file spells out."""
        around = entry
        while around and around not in self._lines:
            around = around.rpartition(".")[0]
        self.faults.append(Fault(self.name, entry, self._lines.get(around, 0), text))


def _lines(raw: str, base: dict[str, Any]) -> dict[str, int]:
    """The line of each table and key; a list's items are counted on from those of the set that the file stands upon."""
    lines, header, counts = dict[str, int](), "", dict[str, int]()
    for number, line in enumerate(raw.splitlines(), 1):
        if found := _HEADER.match(line):
            header = found[2].strip().replace('"', "")
            if found[1] == "[[":
                counts[header] = counts.get(header, _items(base, header) - 1) + 1
                header = f"{header}.{counts[header]}"
            lines.setdefault(header, number)
        elif found := _KEY.match(line):
            lines.setdefault(f"{header}.{found[1]}".lstrip("."), number)
    return lines


def _items(base: dict[str, Any], path: str) -> int:
    found: Any = base
    for key in path.split("."):
        found = found.get(key, {}) if isinstance(found, dict) else {}
    return len(found) if isinstance(found, list) else 0


class Table:
    """A table at ``path``; each entry is asked for once by its type, ``close`` names those nobody asked for."""

    def __init__(self, book: Book, path: str, values: Any, missing: bool = False) -> None:
        self.book, self.path, self._asked, self._missing = book, path, set[str](), missing
        if not isinstance(values, dict):
            self.fault("", "is not a table")
            values = {}
        self.values: dict[str, Any] = values

    def fault(self, key: str, text: str) -> None:
        """Note what is wrong with one entry of this table, or with the table itself."""
        if self._missing:
            return  # the table itself is named already
        self.book.fault(".".join(part for part in (self.path, key) if part), text)

    def close(self) -> None:
        """Name the entries that are no part of a rule set: a misspelt limit must not be dropped in silence."""
        for key in self.values.keys() - self._asked:
            self.fault(key, "is no entry that is known here")

    def _take(self, key: str, kinds: type | tuple[type, ...], what: str, needed: bool) -> Any:
        self._asked.add(key)
        value = self.values.get(key)
        if value is None:
            if needed:
                self.fault(key, "is missing")
            return None
        if not isinstance(value, kinds) or (isinstance(value, bool) and kinds is not bool):
            self.fault(key, f"is not {what}")
            return None
        return value

    def text(self, key: str, needed: bool = True) -> str:
        """A text, empty if it may be left out."""
        return self._take(key, str, "a text", needed) or ""

    def word(self, key: str, allowed: Collection[str]) -> str:
        """A text that is one of the words allowed."""
        found = self.text(key)
        if found and found not in allowed:
            self.fault(key, f"is {found!r}, not one of {', '.join(sorted(allowed))}")
        return found

    def words(self, key: str) -> frozenset[str]:
        """A list of texts, empty where it is left out."""
        found = self._take(key, list, "a list", needed=False) or []
        if not all(isinstance(item, str) for item in found):
            self.fault(key, "is not a list of texts")
        return frozenset(map(str, found))

    def flag(self, key: str) -> bool | None:
        """True, false or not said."""
        return self._take(key, bool, "true or false", needed=False)  # type: ignore[no-any-return]

    def number(self, key: str, needed: bool = False) -> float | None:
        """A plain number, whose source stands beside it in this table."""
        return self._take(key, (int, float), "a number", needed)  # type: ignore[no-any-return]

    def need_number(self, key: str) -> float:
        """A plain number that must be there."""
        return self.number(key, needed=True) or 0

    def table(self, key: str, needed: bool = True) -> Table:
        """A table within this one."""
        found = self._take(key, dict, "a table", needed)
        return Table(self.book, f"{self.path}.{key}".lstrip("."), {} if found is None else found, found is None)

    def tables(self, key: str) -> list[Table]:
        """A list of tables within this one, empty where it is left out."""
        found = self._take(key, list, "a list of tables", needed=False) or []
        return [Table(self.book, f"{self.path}.{key}.{number}".lstrip("."), item) for number, item in enumerate(found)]

    def source(self, key: str = "source") -> Source:
        """The source that an entry names; a fault where there is none."""
        self._asked.add(key)
        name = self.values.get(key)
        if name is None:
            self.fault("", "a number lacks its source")
            return _NOWHERE
        if name not in self.book.sources:
            self.fault(key, f"the source {name!r} is not among the sources")
        return self.book.sources.get(name, _NOWHERE)

    def need_figure(self, key: str) -> Figure:
        """A number with unit and source that must be there."""
        return self.figure(key, needed=True) or Figure(0, "", _NOWHERE)

    def figure(self, key: str, needed: bool = False) -> Figure | None:
        """A number with unit and source: ``{ value = 2, unit = "min", source = "…" }``."""
        if key not in self.values and not needed:
            return None
        table = self.table(key)
        found = Figure(table.need_number("value"), table.text("unit", needed=False), table.source())
        table.close()
        return found

    def amount(self, key: str, needed: bool = False) -> Amount | None:
        """An amount such as ``"0.1 mg/mL"``."""
        found = self.text(key, needed)
        if not found:
            return None
        number, _, unit = found.partition(" ")
        try:
            amount = Amount(float(number), unit)
            units.quantity(amount)
        except ValueError as error:
            self.fault(key, f"{found!r} is no amount: {error}")
            return None
        return amount

    def strength(self) -> Strength | None:
        """This table as a strength that is stocked."""
        amount = self.amount("amount", needed=True)
        name, source = self.text("name", needed=False), self.source()
        self.close()
        if amount is None:
            return None
        return Strength(amount=amount, source=source, exact=units.quantity(amount), name=name)

    def limit(self, key: str, bag_ml: float | None = None) -> Limit | None:
        """A bound: ``{ amount = "30 mL/kg", at_most = "1000 mL", source = "…" }``; bags count as ``bag_ml`` each."""
        if key not in self.values:
            return None
        table = self.table(key)
        amount, most, least = table.amount("amount", needed=True), table.amount("at_most"), table.amount("at_least")
        source = table.source()
        table.close()
        if amount is None:
            return None
        return Limit(
            amount=amount,
            source=source,
            at_most=most,
            at_least=least,
            exact=in_volume(amount, bag_ml),
            exact_most=None if most is None else in_volume(most, bag_ml),
            exact_least=None if least is None else in_volume(least, bag_ml),
            per_kg=units.per_kg(amount.unit),
        )


def in_volume(amount: Amount, bag_ml: float | None) -> units.Quantity:
    """The exact quantity; bags of blood as their largest volume, so that bags and mL can be added up."""
    if amount.unit == "bag" and bag_ml is not None:
        return units.quantity(Amount(amount.value * bag_ml, "mL"))
    return units.quantity(amount)
