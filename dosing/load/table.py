"""One table of a rule set file while it is read: typed entries, and a fault for each that is missing or misspelt."""

from __future__ import annotations

from collections.abc import Collection
from math import isfinite
from typing import Any

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.load.book import Book
from dosing.load.size import read_float
from dosing.load.words import BELOW_ZERO, MAY_BE_ZERO, unit_of
from dosing.rules.rule_set import Figure, Limit, Source, Strength

_NOWHERE = Source("", "no source", "")


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

    def text(self, key: str, needed: bool = True, longest: int | None = None) -> str:
        """A text, empty if it may be left out."""
        found: str | None = self._take(key, str, "a text", needed)
        if found is not None and not found.strip():
            self.fault(key, "is empty")
        if found is not None and longest is not None and len(found) > longest:
            self.fault(key, f"is longer than {longest} characters")
        return found or ""

    def word(self, key: str, allowed: Collection[str], needed: bool = True) -> str:
        """A text that is one of the words allowed."""
        found = self.text(key, needed)
        if found.strip() and found not in allowed:
            self.fault(key, f"is {found!r}, not one of {', '.join(sorted(allowed))}")
        return found

    def words(self, key: str, allowed: Collection[str] | None = None) -> frozenset[str]:
        """A list of texts, empty where it is left out; each one of the words allowed, where these are given."""
        found = self._take(key, list, "a list", needed=False) or []
        if not all(isinstance(item, str) and item.strip() for item in found):
            self.fault(key, "is not a list of texts")
        stated = frozenset(map(str, found))
        for word in sorted(stated.difference(stated if allowed is None else allowed)):
            self.fault(key, f"holds {word!r}, not one of {', '.join(sorted(allowed or ()))}")
        return stated

    def flag(self, key: str) -> bool | None:
        """True, false or not said."""
        return self._take(key, bool, "true or false", needed=False)  # type: ignore[no-any-return]

    def number(self, key: str, needed: bool = False) -> float | None:
        """A plain number from 0 up, whose source stands beside it in this table."""
        found: float | None = self._take(key, (int, float), "a number", needed)
        if found is not None and not (isfinite(found) and found >= 0):
            self.fault(key, f"is {found}, not a number from 0 up")
            return None
        return found

    def need_number(self, key: str) -> float:
        """A plain number that must be there."""
        return self.number(key, needed=True) or 0

    def table(self, key: str, needed: bool = True) -> Table:
        """A table within this one."""
        found = self._take(key, dict, "a table", needed)
        return Table(self.book, f"{self.path}.{key}".lstrip("."), {} if found is None else found, found is None)

    def tables(self, key: str, at_least_one: bool = False) -> list[Table]:
        """A list of tables within this one, empty where it is left out."""
        found = self._take(key, list, "a list of tables", needed=at_least_one) or []
        if at_least_one and self.values.get(key) == []:
            self.fault(key, "is empty")
        return [Table(self.book, f"{self.path}.{key}.{number}".lstrip("."), item) for number, item in enumerate(found)]

    def source(self, key: str = "source") -> Source:
        """The source that an entry names; a fault where there is none."""
        self._asked.add(key)
        name = self.values.get(key)
        if name is None:
            self.fault("", "a number lacks its source")
            return _NOWHERE
        if not isinstance(name, str) or name not in self.book.sources:
            self.fault(key, f"the source {name!r} is not among the sources")
            return _NOWHERE
        return self.book.sources[name]

    def need_figure(self, key: str) -> Figure:
        """A number with unit and source that must be there."""
        return self.figure(key, needed=True) or Figure(0, "", _NOWHERE)

    def figure(self, key: str, needed: bool = False) -> Figure | None:
        """A number with unit and source: ``{ value = 2, unit = "min", source = "…" }``."""
        if key not in self.values and not needed:
            return None
        table, wanted = self.table(key), unit_of(key)
        found = Figure(table._figure_value(key), table.text("unit", needed=wanted is not None), table.source())
        if wanted and found.unit and found.unit != wanted:
            table.fault("unit", f"is {found.unit!r}: this number is read in {wanted}")
        table.close()
        return found

    def _figure_value(self, name: str) -> float:
        value: float = self._take("value", (int, float), "a number", needed=True) or 0
        if "value" not in self.values or self._is_in_range(name, value):
            return value
        above = "below zero" if name in BELOW_ZERO else "from 0 up" if name in MAY_BE_ZERO else "above zero"
        self.fault("value", f"is {value}, not a number {above}")
        return value

    @staticmethod
    def _is_in_range(name: str, value: float) -> bool:
        if name in BELOW_ZERO:
            return isfinite(value) and value < 0
        return isfinite(value) and (value > 0 or (value == 0 and name in MAY_BE_ZERO))

    def amount(self, key: str, needed: bool = False) -> Amount | None:
        """An amount such as ``"0.1 mg/mL"``."""
        found = self.text(key, needed)
        if not found:
            return None
        number, _, unit = found.partition(" ")
        try:
            amount = Amount(read_float(number), unit)
            units.quantity(amount)
        except (ValueError, OverflowError) as error:
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
        if not units.kind(amount.unit).endswith("/volume"):
            self.fault("amount", f"is {amount.unit}, not a strength for each mL")
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
        for name, bound in (("at_most", most), ("at_least", least)):
            if bound and _kind(bound, bag_ml) != _kind(amount, bag_ml).replace("/kg", ""):
                table.fault(name, f"is stated in {bound.unit}, the limit in {amount.unit}")
                return None
        return Limit(
            amount=amount,
            source=source,
            at_most=most,
            at_least=least,
            exact=units.in_volume(amount, bag_ml),
            exact_most=None if most is None else units.in_volume(most, bag_ml),
            exact_least=None if least is None else units.in_volume(least, bag_ml),
            per_kg=units.per_kg(amount.unit),
        )


def _kind(amount: Amount, bag_ml: float | None) -> str:
    return "volume" if amount.unit == "bag" and bag_ml is not None else units.kind(amount.unit)
