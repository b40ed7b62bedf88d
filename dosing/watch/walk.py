"""How an alarm of a measurement is raised, moved and ended by one reading after the other.

One reading in danger is enough, of a warning so many in a row; it ends once clearly back, or after so many fine ones.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from msgspec import Struct

FINE, WARNING, DANGER = range(3)
LEVELS = {WARNING: "warning", DANGER: "danger"}


class Seen(Struct, frozen=True):
    """What one reading says: how bad, on which side (-1 low, 1 high), and whether clearly fine."""

    at: datetime
    level: int
    side: int = -1
    clear: bool = False


class Walk(Struct):
    """What is known after the readings so far; ``last`` is the newest of them that was not fine."""

    since: datetime | None = None
    level: int = FINE
    side: int = -1
    worst: int = FINE
    wrong: int = 0
    fine: int = 0
    last: datetime | None = None


def recent(seen: Iterable[Seen], in_a_row: float) -> list[Seen]:
    """What decides of all that was seen, told newest first: back to where it was fine for certain; oldest first."""
    found: list[Seen] = []
    fine = 0
    for one in seen:
        found.append(one)
        fine = fine + 1 if one.level == FINE else 0
        if fine and (one.clear or fine >= in_a_row):
            break
    return found[::-1]


def walk(seen: Iterable[Seen], in_a_row: float) -> Walk:
    """Raise, move or clear by one reading after the other, oldest first."""
    known = Walk()
    for one in seen:
        known.wrong = known.wrong + 1 if one.level > FINE else 0
        known.fine = known.fine + 1 if one.level == FINE else 0
        if known.since is None and (one.level == DANGER or known.wrong >= in_a_row):
            known.since = one.at
        elif one.level == FINE and (one.clear or known.fine >= in_a_row):
            known.since, known.worst = None, FINE
        known.level = one.level
        if one.level > FINE:
            known.side, known.worst, known.last = one.side, max(known.worst, one.level), one.at
    return known
