"""How the structures of a rule set state the shape of its file, from which loader, JSON Schema and reference page come.

Each field of a dataclass is an entry of a table, or made of others (``Made``). Its type says what stands there: a
``Source`` is named, a ``Figure`` is a table of value, unit and source, an ``Amount`` a text such as ``2 mg/kg``, and a
``float`` a plain number, or a figure where it has a ``Unit``. What has no default must be there, and not be empty
where it holds lists or tables. The marks below say more; a plain text among them says what the entry means.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import MISSING, dataclass, fields, replace
from enum import Enum
from functools import cache
from types import UnionType
from typing import Annotated, Any, NamedTuple, TypeVar, get_args, get_origin, get_type_hints

from dosing.ground import units

Value = TypeVar("Value")


class Sign(Enum):
    """Which numbers an entry takes: a figure those above zero, a plain number those from 0 up, unless this is said."""

    ABOVE_ZERO = "above zero"
    FROM_ZERO = "from 0 up"
    BELOW_ZERO = "below zero"


class Mark(Enum):
    """What a field is besides its type."""

    MADE = "no entry: made of others"
    FLAT = "its entries stand in the same table"
    DEFINED = "its sources are said here, not named"
    LETTERED = "its drug names are shown in tall-man letters"
    SOURCED = "where it stands, the table names its source"


Made = Annotated[Value, Mark.MADE]
DrugText = Annotated[str, Mark.LETTERED]


class Unit(NamedTuple):
    """In which unit the number of a figure is read; empty: in that which the file says, or none."""

    name: str = ""


class OneOf(NamedTuple):
    """The words that may stand there, or be the keys of a table."""

    words: Collection[str]


class Keys(NamedTuple):
    """The keys of a table, all of which must be there, each with the unit of its number (empty: it has none)."""

    units: Mapping[str, str]


class Named(NamedTuple):
    """How the keys of a table are spelt, as an expression and in words."""

    spelling: re.Pattern[str]
    words: str


class Key(NamedTuple):
    """The key of an entry where it is not the field's name."""

    name: str


class Longest(NamedTuple):
    """How many characters a text may have."""

    characters: int


class In(NamedTuple):
    """The units that may stand there, or in which an amount is stated, as an expression and in words."""

    units: re.Pattern[str]
    words: str


OfDose = In(units.DOSE, "a unit that is used here")
PerMl = In(units.STRENGTH, "a strength for each mL")
Volume = In(units.VOLUME, "a volume")


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a table: the field that it fills, its key, the type that it holds, and its marks."""

    name: str
    key: str
    holds: Any
    must: bool
    marks: tuple[object, ...]

    def mark(self, kind: type[Value]) -> Value | None:
        """Its mark of this kind."""
        return next((mark for mark in self.marks if isinstance(mark, kind)), None)

    def refused(self, word: str) -> str:
        """What the word, or unit, would have to be; empty where it may stand there."""
        one_of, within = self.mark(OneOf), self.mark(In)
        if one_of and word not in one_of.words:
            return f"one of {', '.join(sorted(one_of.words))}"
        return within.words if within and not within.units.fullmatch(word) else ""

    @property
    def by(self) -> Any:
        """By what it is read: its type without what stands within, ``Unit`` for a figure, the mark of a table."""
        if origin := get_origin(self.holds):
            return origin
        own = [mark for mark in self.marks if mark in (Mark.FLAT, Mark.DEFINED)]
        return own[0] if own else Unit if self.mark(Unit) else self.holds

    @property
    def sign(self) -> Sign:
        """Which numbers it takes."""
        return self.mark(Sign) or (Sign.ABOVE_ZERO if self.mark(Unit) else Sign.FROM_ZERO)

    def within(self, key: str = "") -> Entry:
        """What stands in this list, or in this table under that name."""
        if self.by is not Mapping:
            return replace(self, holds=get_args(self.holds)[0])
        keys, defined = self.mark(Keys), Mark.DEFINED in self.marks
        unit = keys.units[key] if keys else ""
        marks = (*([Unit(unit)] if unit else []), *([Mark.DEFINED] if defined else []))
        return Entry(key, key, get_args(self.holds)[1], True, marks)


@cache
def entries(kind: type) -> tuple[Entry, ...]:
    """What a file holds of this structure, in the order of its fields."""
    hints = get_type_hints(kind, include_extras=True)
    return tuple(
        _entry(item.name, hints[item.name], item.default is MISSING and item.default_factory is MISSING)
        for item in fields(kind)
        if Mark.MADE not in _marks(hints[item.name])
    )


def _marks(hint: Any) -> tuple[object, ...]:
    return get_args(hint)[1:] if get_origin(hint) is Annotated else ()


def _entry(name: str, hint: Any, must: bool) -> Entry:
    marks = _marks(hint)
    plain = get_args(hint)[0] if marks else hint
    if isinstance(plain, UnionType):
        (plain,) = (each for each in get_args(plain) if each is not type(None))
    key = next((mark.name for mark in marks if isinstance(mark, Key)), name)
    return Entry(name, key, plain, must, marks)
