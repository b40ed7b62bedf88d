"""Which limits of a treatment hold for nobody, because bands after theirs decide for all whom they fit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import product

from dosing.check.bands import DoseLimits, Person, told_apart
from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.rules.rule_set import Treatment
from dosing.rules.treatment import given_for

_JUST_UNDER = 0.01  # days or kg before a band's edge
_SOME_KG, _SOME_DAYS = 40.0, 3000.0  # where no band has an edge


def replaced(treatment: Treatment, names: Iterable[str]) -> set[tuple[int, str]]:
    """The entries of these names that decide for nobody, as (place of the band, name)."""
    place = {id(band): number for number, band in enumerate(treatment.bands)}
    stated = {(number, name) for number, band in enumerate(treatment.bands) for name in names if getattr(band, name)}
    people = ((given, person) for given in given_for(treatment) for person in _everybody(given))
    for given, person in people:
        limits = DoseLimits(given, person)
        stated -= {(place[id(band)], name) for name in names if (band := limits.band(name)) is not None}
    return stated


def _everybody(treatment: Treatment) -> Iterator[Person]:
    """A patient of each sort that the bands tell apart: those whom none of them names stand for each other."""
    places = [band.where for band in treatment.bands]
    weights = _either_side((edge for each in places for edge in (each.from_kg, each.under_kg)), _SOME_KG)
    ages = _either_side((edge for each in places for edge in (each.from_days, each.under_days)), _SOME_DAYS)
    for days, kg, apart in product((None, *ages), (None, *weights), list(told_apart(treatment))):
        weight = None if kg is None else units.quantity(Amount(kg, "kg"))
        adult = Person(adult=True, days=days, weight=weight, **apart)
        yield adult
        if days is not None:  # whose age nobody knows is an adult
            yield replace(adult, adult=False)


def _either_side(edges: Iterable[float | None], otherwise: float) -> set[float]:
    known = {edge for edge in edges if edge is not None}
    return {value for edge in known for value in (edge, edge - _JUST_UNDER)} or {otherwise}
