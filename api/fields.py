"""The contract's values: numbers, times, ids, texts and amounts, each read strictly."""

from __future__ import annotations

import re
import uuid
from datetime import datetime
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.shape import Shape
from consult.unseen import NOT_IN_A_LINE, NOT_IN_A_NAME, NOT_IN_LINES

SIGNIFICANT_DIGITS = 15  # what a double always keeps; more in a text would be lost in silence
DECIMAL = re.compile(r"-?\d{1,30}(\.\d{1,30})?", re.ASCII)
RFC_3339 = re.compile(r"(?:19|20|21)\d\d-\d\d-\d\d[Tt ]\d\d:\d\d:\d\d(\.\d{1,9})?([Zz]|[+-]\d\d:\d\d)?", re.ASCII)
LONGEST_NAME = 120  # what is longer is told in words, and not compared by eye

QUANTITIES = ("mcg", "mg", "g", "mL", "L", "units", "mmol", "mEq", "bag")
UNITS = tuple(f"{what}{per}{each}" for what in QUANTITIES for per in ("", "/kg") for each in ("", "/min", "/h"))
STRENGTHS = tuple(f"{what}/mL" for what in ("mcg", "mg", "g", "units", "mmol", "mEq"))
VOLUMES = ("mL", "L")
RATES = tuple(unit for unit in UNITS if unit.endswith(("/min", "/h")))


class Number(serializers.Field):
    """A JSON number or a decimal text of at most 15 significant digits, between `least` and `most`, `over` excluded."""

    default_error_messages = {
        "not_a_number": "A number is needed.",
        "too_many_digits": "At most 15 significant digits.",
        "not_whole": "A whole number is needed.",
        "out_of_range": "Must be from {least} to {most}.",
        "not_above": "Must be more than {over}.",
    }

    def __init__(
        self,
        least: float | None = None,
        most: float = 1e9,
        *,
        over: float | None = None,
        whole: bool = False,
        unit: str = "",
        **rest: Any,
    ) -> None:
        self.least, self.most, self.over, self.whole, self.unit = least, most, over, whole, unit
        super().__init__(**rest)

    def to_internal_value(self, data: Any) -> int | float:
        """The number; a whole one as int, so that 10, 10.0 and "10" are the same content."""
        value = self._read(data)
        if self.over is not None and value <= self.over:
            self.fail("not_above", over=self.over)
        least = self.least if self.least is not None else -self.most
        if not least <= value <= self.most:
            self.fail("out_of_range", least=f"{least:g}", most=f"{self.most:g} {self.unit}".strip())
        whole = value == int(value)
        if self.whole and not whole:
            self.fail("not_whole")
        return int(value) if whole else value

    def _read(self, data: Any) -> int | float:
        if isinstance(data, (int, float)) and not isinstance(data, bool):
            return data
        if not isinstance(data, str) or not DECIMAL.fullmatch(data):
            self.fail("not_a_number")
        if len(data.lstrip("-0.").replace(".", "").rstrip("0" if "." in data else "")) > SIGNIFICANT_DIGITS:
            self.fail("too_many_digits")
        return float(data)


@extend_schema_field({"type": "string", "format": "date-time"})
class Time(serializers.Field):
    """An RFC 3339 time with its offset, as an aware datetime that keeps the offset it was sent with."""

    default_error_messages = {
        "not_a_time": "A time such as 2030-01-05T10:00:00Z is needed.",
        "no_offset": "The time needs its offset, such as Z or +01:00.",
    }

    def to_internal_value(self, data: Any) -> datetime:
        """The time; `no_offset` without one, `not_a_time` for anything else."""
        found = RFC_3339.fullmatch(data) if isinstance(data, str) else None
        if found is None:
            self.fail("not_a_time")
        if found[2] is None:
            self.fail("no_offset")
        try:
            return datetime.fromisoformat(data.upper())
        except ValueError:
            self.fail("not_a_time")


class Id(serializers.UUIDField):
    """A UUID as 36 characters; the other spellings that Python knows would be a second name for the same thing."""

    default_error_messages = {"invalid": "An id is needed: a UUID of 36 characters."}

    def to_internal_value(self, data: Any) -> uuid.UUID:
        """The UUID."""
        if not isinstance(data, str) or len(data) != 36:
            self.fail("invalid", value=data)
        return super().to_internal_value(data)


class Text(serializers.CharField):
    """A text of at most `most` characters without unseen or direction-turning ones; line breaks only where `lines`.

    A short one is a name or a label: it may not even hold the joiners that some scripts and emoji are written with.
    """

    default_error_messages = {
        "unseen": "Control, direction and invisible characters are not allowed.",
        "invalid": "A text is needed.",
        "blank": "Must not be empty.",
        "max_length": "At most {max_length} characters.",
    }

    def __init__(self, most: int, *, lines: bool = False, **rest: Any) -> None:
        one_line = NOT_IN_A_NAME if most <= LONGEST_NAME else NOT_IN_A_LINE
        self.unseen = NOT_IN_LINES if lines else one_line
        super().__init__(max_length=most, **rest)

    def to_internal_value(self, data: Any) -> str:
        """The text without white space around it; anything but a JSON string is refused."""
        if not isinstance(data, str):
            self.fail("invalid")
        text = super().to_internal_value(data)
        if self.unseen.search(text):
            self.fail("unseen")
        return text


class Choice(serializers.ChoiceField):
    """One of a few words, exactly as the contract spells it."""

    default_error_messages = {"invalid_choice": "One of these is needed: {known}."}

    def to_internal_value(self, data: Any) -> str:
        """The word; anything but a JSON string is refused."""
        if not isinstance(data, str) or data not in self.choices:
            self.fail("invalid_choice", input=data, known=", ".join(self.choices))
        return data


@extend_schema_field({"type": "boolean"})
class Flag(serializers.Field):
    """JSON true or false, and nothing that merely looks like it."""

    default_error_messages = {"not_a_flag": "true or false is needed."}

    def to_internal_value(self, data: Any) -> bool:
        """The flag."""
        if not isinstance(data, bool):
            self.fail("not_a_flag")
        return data


class Many(serializers.ListField):
    """A list of values, each read as strictly as one alone."""

    default_error_messages = {
        "not_a_list": "A list is needed.",
        "min_length": "At least {min_length} is needed.",
        "max_length": "At most {max_length}.",
    }


class Unit(Choice):
    """A unit that the contract knows, out of those that fit here."""

    default_error_messages = {"invalid_choice": "Unknown unit here: {input}."}


class AmountEntry(Shape):
    """A number above zero and its unit, such as 10 mcg; faults point at the value or the unit."""

    value = Number(over=0, error_messages={"required": "How much? The number is needed."})
    unit = Unit(UNITS, error_messages={"required": "A number without its unit: say which, such as mg."})


class StrengthEntry(Shape):
    """How much is in a milliliter: mass, units or mmol."""

    value = Number(over=0)
    unit = Unit(STRENGTHS)


class VolumeEntry(Shape):
    """An amount of fluid in mL or L."""

    value = Number(over=0)
    unit = Unit(VOLUMES)


class InfusedEntry(VolumeEntry):
    """How much fluid went in, perhaps none."""

    value = Number(least=0)


class RateEntry(Shape):
    """How fast something runs, in any unit per minute or hour."""

    value = Number(over=0)
    unit = Unit(RATES)
