"""Lines of pieces: texts, ``{"age": time}`` for a number's age, ``{"clock": time}`` for a time of day."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dosing.ground.language import gettext as _

Card = Mapping[str, Any]
Piece = str | dict[str, str]
Line = list[Piece]
MOST_TIMES = 3


def joined(between: str, parts: list[Line]) -> Line:
    """Lines behind each other as one."""
    return [piece for place, part in enumerate(parts) for piece in ([between] if place else []) + part]


def times(given_at: list[str]) -> Line:
    """Each of a few times; of many how many, the first and the last."""
    if len(given_at) > MOST_TIMES:
        return [
            _(", {given_at} times, ", given_at=len(given_at)),
            {"clock": given_at[0]},
            _(" to "),
            {"clock": given_at[-1]},
        ]
    return [piece for at in given_at for piece in (", ", {"clock": at})]


def said(text: str) -> list[Line]:
    """A line of one text, or none."""
    return [[text]] if text else []


def at_time(word: str, at: str | None) -> Line:
    """A word and the time behind it, or nothing without a time."""
    return [word, {"clock": at}] if at else []
