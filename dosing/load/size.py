"""How large a rule set may be: looked at before its entries are, so that no file costs more than any rule set would."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

MOST_CHARACTERS = 1_000_000
MOST_ENTRIES = 40_000  # the demonstration has less than ten thousand
MOST_DEPTH = 8  # tables in tables: treatments, one, its indications, one, its cautions, for whom, by which routes
MOST_DIGITS = 20
TOO_MANY_DIGITS = f"a number has more than {MOST_DIGITS} digits"
TOO_DEEP = f"tables stand in tables more than {MOST_DEPTH} deep"


def too_long(number: str) -> bool:
    """Whether a number has more digits than any dose or limit."""
    return sum(character.isdigit() for character in number) > MOST_DIGITS


def read_float(text: str) -> float:
    """A number with a point or an exponent; raises ValueError where it has too many digits or is none that is kept."""
    if too_long(text):
        raise ValueError(TOO_MANY_DIGITS)
    value = float(text)
    if math.isinf(value) and "inf" not in text:
        raise ValueError(f"{text} is too large a number")
    return value


def fault_of(content: Any) -> str:
    """What is too large about it, in words; empty where nothing is."""
    for entries, (value, depth) in enumerate(_walk(content)):
        if depth > MOST_DEPTH:
            return TOO_DEEP
        if isinstance(value, int) and abs(value) >= 10**MOST_DIGITS:
            return TOO_MANY_DIGITS
        if entries >= MOST_ENTRIES:
            return f"the file holds more than {MOST_ENTRIES:,} entries"
    return ""


def _walk(content: Any) -> Iterator[tuple[Any, int]]:
    """Every value with how many tables it stands in; not recursive, so that no depth exhausts the stack."""
    left = [(content, 0)]
    while left:
        value, depth = left.pop()
        yield value, depth
        if isinstance(value, dict):
            left.extend((inner, depth + 1) for inner in value.values())
        elif isinstance(value, list):
            left.extend((inner, depth + isinstance(inner, list)) for inner in value)
