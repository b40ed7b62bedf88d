"""Which of a treatment's limits are those of this patient, and what they come to at this weight."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.once import once
from dosing.ground.units import Quantity
from dosing.rules.rule_set import Band, Figure, Limit, Treatment, Where
from dosing.rules.words import IMPRESSIONS, ROUTES

Bound = tuple[Limit, Quantity]  # a limit and what it comes to
LIMITS = ("least", "guide", "start", "most", "hard", "total", "total_guide", "total_hard")
_ANY_WEIGHT = units.quantity(Amount(40, "kg"))  # only whether bands for a known weight fit, never a dose


@dataclass(frozen=True, kw_only=True)
class Person:
    """What the limits ask about a patient; ``days`` is the age; ``pressure_low`` None: whether it is is not known.

    ``route`` is that by which the treatment is given; empty: by none of which a limit of its own is stated.

    ``again`` is whether some of the treatment was given before, for what it is asked about.

    ``onset_h`` is how many hours ago the onset was, None where nobody knows.

    ``glucose`` is the newest, in mg/dL, without end where the meter only says that it is high.

    ``likely`` is what a child of the age is likely to weigh, of one whom nobody has weighed.
    """

    adult: bool
    days: float | None
    weight: Quantity | None
    impression: str = "undifferentiated"
    pressure_low: bool | None = None
    bleeding_cause: str | None = None
    likely: Quantity | None = None
    history: frozenset[str] = frozenset()
    pregnancy_weeks: float | None = None
    phase: str = "transport"
    route: str = ""
    glucose: float | None = None
    injuries: frozenset[str] = frozenset()
    onset_h: float | None = None
    again: bool = False

    @once
    def who(self) -> str:
        """``adult`` or ``child``, as the bands name them."""
        return "adult" if self.adult else "child"

    @property
    def mother(self) -> bool:
        """Whether a pregnancy or a birth is on record, whoever bears it."""
        return bool(self.pregnancy_weeks) or self.bleeding_cause == "postpartum"

    @property
    def bleeds(self) -> bool:
        """Whether a bleeding is on record, as the impression or by its cause."""
        return self.impression == "hemorrhagic" or self.bleeding_cause is not None

    @once
    def kilograms(self) -> float | None:
        """The weight as the plain number that it was entered as: 1.1 is on an edge at 1.1, which 11/10 is not."""
        return None if self.weight is None else float(self.weight.magnitude)


def fits(where: Where | None, person: Person) -> bool:
    """Whether a band or a caution is for this person; what is unknown lies in no band with an edge."""
    if where is None:
        return True
    return (
        where.who in (None, person.who)
        and (not where.impressions or person.impression in where.impressions)
        and (not where.bleeding_causes or person.bleeding_cause in where.bleeding_causes)
        and (where.weight is None or (where.weight == "known") == (person.weight is not None))
        and (where.pressure_low is None or where.pressure_low == bool(person.pressure_low))
        and _between(where.from_kg, person.kilograms, where.under_kg)
        and _between(where.from_days, person.days, where.under_days)
        and _told(where, person)
    )


def _told(where: Where, person: Person) -> bool:
    """Whether what is told of the patient, and how it is given, is what the band is for."""
    return (
        (not where.routes or person.route in where.routes)
        and where.again in (None, person.again)
        and (not where.phases or person.phase in where.phases)
        and person.bleeding_cause not in where.not_bleeding_causes
        and (not where.history or not where.history.isdisjoint(person.history))
        and _between(where.from_weeks, person.pregnancy_weeks, where.under_weeks)
        and _between(where.from_glucose, person.glucose, None)
        and (not where.injuries or not where.injuries.isdisjoint(person.injuries))
        and _between(where.from_onset_h, person.onset_h, None)
    )


def at_any_weight(treatment: Treatment, who: str) -> bool:
    """Whether a treatment is the same for these patients (``adult`` or ``child``) at any weight, known or not."""
    bands = [band for band in treatment.bands if band.where.who in (None, who)]
    stocks = (*treatment.stocks, *treatment.concentrations)
    warnings = [each for stock in stocks for each in (stock.avoid, stock.by_order, stock.barred) if each is not None]
    stated = (bands, treatment.cautions, treatment.wants, warnings)
    places = [each.where for part in stated for each in part if each.where]
    by_weight = any(place.weight or (place.from_kg, place.under_kg) != (None, None) for place in places)
    per_kg = units.per_kg(treatment.unit) or any(limit.per_kg for band in bands for limit in _limits_of(band))
    return not (by_weight or per_kg)


def told_apart(treatment: Treatment) -> Iterator[dict[str, Any]]:
    """What its bands tell people apart by, beside age and weight: each combination, as fields of a ``Person``."""
    places = [band.where for band in treatment.bands]
    routes = _named(place.routes for place in places)
    edges = {edge for each in places for edge in (each.from_weeks, each.under_weeks) if edge is not None}
    ways: dict[str, list[Any]] = {
        "impression": [*_other(places), *_named(place.impressions for place in places)],
        "bleeding_cause": [None, *_named(place.bleeding_causes | place.not_bleeding_causes for place in places)],
        "pressure_low": [None, True] if any(place.pressure_low is not None for place in places) else [None],
        "again": [False, True] if any(place.again is not None for place in places) else [False],
        "history": [frozenset(), *(frozenset({each}) for each in _named(place.history for place in places))],
        "pregnancy_weeks": [None, *sorted(edges | {edge - 1 for edge in edges})],
        "injuries": [frozenset(), *(frozenset({each}) for each in _named(place.injuries for place in places))],
        "onset_h": [None, *sorted({each.from_onset_h for each in places if each.from_onset_h is not None})],
        "glucose": [None, *sorted({each.from_glucose for each in places if each.from_glucose is not None})],
        "phase": list(dict.fromkeys(["transport", *_named(place.phases for place in places)])),
        "route": [*[route for route in ROUTES if route in treatment.routes and route not in routes][:1], *routes],
    }
    for chosen in product(*ways.values()):
        yield dict(zip(ways, chosen, strict=True))


def _other(places: list[Where]) -> list[str]:
    """An impression that none of the bands names, for all such."""
    named = _named(place.impressions for place in places)
    return [each for each in ("undifferentiated", *sorted(IMPRESSIONS)) if each not in named][:1]


def _named(words: Iterable[frozenset[str]]) -> list[str]:
    return sorted(frozenset[str]().union(*words))


def _between(start: float | None, value: float | None, end: float | None) -> bool:
    if start is None and end is None:
        return True
    return value is not None and (start is None or value >= start) and (end is None or value < end)


class DoseLimits:
    """The limits of one treatment for one person: of the bands that fit, the last that states a limit decides it."""

    def __init__(self, treatment: Treatment, person: Person) -> None:
        self.treatment, self.person = treatment, person
        self._bands = [band for band in reversed(treatment.bands) if fits(band.where, person)]
        # Each is asked for several times, and its arithmetic is exact.
        self._exact: dict[str, Quantity | None] = {}
        self._bounds: dict[str, Bound | None] = {}

    @property
    def alike(self) -> tuple[object, ...]:
        """Who shares it has the same limits of the treatment: by the weight, and by the bands that fit."""
        return (self.person.kilograms, self.person.likely, *map(id, self._bands))

    def band(self, name: str) -> Band | None:
        """The band that decides what the name stands for: a limit, ``count``, ``by_order`` or ``not_covered``."""
        for band in self._bands:  # asked for so often that a generator would be felt
            if getattr(band, name) is not None:
                return band
        return None

    def limit(self, name: str) -> Limit | None:
        """The limit of that name (one of ``LIMITS``), None where it is not stated."""
        stated: Limit | None = getattr(self.band(name), name, None)
        return stated

    @once
    def count(self) -> Figure | None:
        """How many doses there may be before an order."""
        band = self.band("count")
        return None if band is None else band.count

    def per_kg(self, name: str) -> Limit | None:
        """The limit per kg of these patients were their weight known: what a dose per kg is held against without it."""
        known = DoseLimits(self.treatment, replace(self.person, weight=_ANY_WEIGHT)).limit(name)
        return known if known is not None and known.per_kg else None

    def exact(self, name: str) -> Quantity | None:
        """What the limit comes to for this person; None where it is not stated or hangs on an unknown weight."""
        if name not in self._exact:
            stated = self.limit(name)
            self._exact[name] = None if stated is None else resolve(stated, self.person.weight)
        return self._exact[name]

    def ceiling(self, name: str) -> Quantity | None:
        """What is above the limit at any weight, as ``bound`` says it."""
        bound = self.bound(name)
        return None if bound is None else bound[1]

    def bound(self, name: str) -> Bound | None:
        """A limit and what it comes to; where nobody knows the weight, its cap.

        For a child whom nobody has weighed no more than the limit per kg comes to at the likely weight of that age.
        """
        if name not in self._bounds:
            self._bounds[name] = min(self._known(name), key=lambda pair: pair[1], default=None)
        return self._bounds[name]

    def _known(self, name: str) -> list[Bound]:
        stated, exact = self.limit(name), self.exact(name)
        at = stated.exact_most if stated is not None and exact is None else exact
        of_age = self._at_the_likely(name)
        comparable = of_age is not None and (at is None or at.units == of_age[1].units)
        return [*([] if stated is None or at is None else [(stated, at)]), *([of_age] if of_age and comparable else [])]

    def _at_the_likely(self, name: str) -> Bound | None:
        """The limit per kg, of one whom nobody has weighed, at the likely weight of that age.

        A child who is heavier is stopped sooner than it must be: to weigh or guess it opens its own limit. What the
        rules state for the unweighed of an age stands.
        """
        band = self.band(name)
        of_age = band is not None and band.where.weight == "unknown" and {band.where.from_days, band.where.under_days}
        if (of_age and of_age != {None}) or self.person.weight is not None or self.person.likely is None:
            return None
        bound = DoseLimits(self.treatment, replace(self.person, weight=self.person.likely)).bound(name)
        return bound if bound is not None and bound[0].per_kg else None

    def uses_weight(self) -> bool:
        """Whether any of these limits is per kg of body weight."""
        return any(band_limit.per_kg for band in self._bands for band_limit in _limits_of(band))


def _limits_of(band: Band) -> list[Limit]:
    return [stated for name in LIMITS if (stated := getattr(band, name)) is not None]


def resolve(limit: Limit, weight: Quantity | None) -> Quantity | None:
    """The limit as an amount for this weight; None for one per kg while nobody knows the weight."""
    if not limit.per_kg:
        return limit.exact
    if weight is None:
        return None
    exact = limit.exact * weight
    if limit.exact_least is not None and exact < limit.exact_least:
        exact = limit.exact_least
    if limit.exact_most is not None and exact > limit.exact_most:
        exact = limit.exact_most
    return exact
