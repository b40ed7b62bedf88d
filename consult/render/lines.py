"""Lines of pieces: texts, ``{"age": time}`` for a number's age, ``{"clock": time}`` for a time of day."""

from __future__ import annotations

from collections.abc import Mapping
from string import Formatter
from typing import Any

from dosing.ground.language import gettext as _

Card = Mapping[str, Any]
Piece = str | dict[str, str]
Line = list[Piece]
MOST_TIMES = 3


def clock(at: str) -> Line:
    """A time of day as a line of its own."""
    return [{"clock": at}]


def filled(text: str, /, **lines: str | Line) -> Line:
    """A whole sentence with texts or lines at its places, in the order of its language."""
    found: Line = []
    for words, place, *_rest in Formatter().parse(text):
        value = lines[place] if place else ""
        found += [words, *([value] if isinstance(value, str) else value)]
    return [piece for piece in found if piece]


def joined(between: str, parts: list[Line]) -> Line:
    """Lines behind each other as one."""
    return [piece for place, part in enumerate(parts) for piece in ([between] if place else []) + part]


def times(given_at: list[str]) -> Line:
    """Each of a few times; of many how many, the first and the last."""
    if len(given_at) > MOST_TIMES:
        words = _(", {count} times, {first} to {last}")
        return filled(words, count=str(len(given_at)), first=clock(given_at[0]), last=clock(given_at[-1]))
    return [piece for at in given_at for piece in (", ", {"clock": at})]


def said(text: str) -> list[Line]:
    """A line of one text, or none."""
    return [[text]] if text else []


def at_time(words: str, at: str | None) -> Line:
    """Words with a ``{time}`` in them, or nothing without a time."""
    return filled(words, time=clock(at)) if at else []
