"""Bands of a treatment that state one limit twice for the same patients, where neither is meant to go first.

Of the bands that fit a patient the last that states a limit decides it, so that a special one follows the general. Two
that restrict by the same entries (both by age, say) and share patients are a slip, unless one lies within the other or
a later one decides for all whom they share: an edge was meant to meet the other, or a word stands in two lists.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations
from math import inf
from typing import Any, NamedTuple

from dosing.check.bands import LIMITS
from dosing.rules.parts import Caution, Where
from dosing.rules.treatment import Treatment

STATED = (*LIMITS, "count", "interval", "shortest", "by_order", "not_covered", "contraindicated")
SAID = ("who", "weight", "pressure_low", "again", "impressions", "bleeding_causes", "not_bleeding_causes")
TOLD = ("history", "injuries", "phases", "routes", "indications")
SPANS = ("kg", "days", "weeks", "onset_h", "glucose")


class Span(NamedTuple):
    """From a number up to another, without it."""

    start: float
    end: float


Taken = Span | frozenset[Any]  # the numbers, or the words, that an entry takes
Region = Mapping[str, Taken]  # by entry; what is left out takes all


def overlap_faults(treatment: Treatment) -> Iterator[tuple[str, str]]:
    """Each pair once, at the later one's entry within the treatment (``.bands.3.most``)."""
    regions = [_region(band.where) for band in treatment.bands]
    for name in STATED:
        stated = [(number, getattr(band, name)) for number, band in enumerate(treatment.bands) if getattr(band, name)]
        for (first, one), (second, other) in combinations(stated, 2):
            later = [regions[number] for number, _ in stated if number > second]
            if _says(one) != _says(other) and _slip(regions[first], regions[second], later):
                yield f".bands.{second}.{name}", _words(name, first, regions[first], regions[second])


def _words(name: str, first: int, one: Region, other: Region) -> str:
    apart = ", ".join(each for each in one if one[each] != other[each])
    return (
        f"{name} is another in band {first + 1}, and some patients fit both by {apart}: set the bands apart, "
        "put one within the other, or add a band after both for those"
    )


def _says(stated: Any) -> tuple[Any, ...]:
    """What it states, wherever that comes from."""
    if isinstance(stated, Caution):
        return (stated.text,)
    return tuple(getattr(stated, name, None) for name in ("amount", "at_most", "at_least", "value", "unit"))


def _slip(one: Region, other: Region, later: Iterable[Region]) -> bool:
    if one.keys() != other.keys() or _within(one, other) or _within(other, one):
        return False
    shared = {name: met for name in one if (met := _meet(one[name], other[name]))}
    return len(shared) == len(one) and not any(_within(shared, region) for region in later)


def _within(small: Region, large: Region) -> bool:
    return all(name in small and _meet(small[name], large[name]) == small[name] for name in large)


def _meet(one: Taken, other: Taken) -> Taken | None:
    """What both take; nothing, or an empty set, where they share none."""
    if isinstance(one, Span) and isinstance(other, Span):
        both = Span(max(one.start, other.start), min(one.end, other.end))
        return both if both.start < both.end else None
    return frozenset(one) & frozenset(other)


def _region(where: Where) -> Region:
    words = {name: _word_set(getattr(where, name)) for name in (*SAID, *TOLD)}
    spans = {name: _span(where, name) for name in SPANS}
    return {name: taken for name, taken in (words | spans).items() if taken}


def _word_set(said: Any) -> frozenset[Any]:
    if isinstance(said, frozenset):
        return said
    return frozenset() if said is None else frozenset({said})


def _span(where: Where, name: str) -> Span | None:
    start, end = getattr(where, f"from_{name}"), getattr(where, f"under_{name}", None)
    return None if start is None and end is None else Span(start or 0, inf if end is None else end)
