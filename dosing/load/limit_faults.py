"""What is wrong with the limits of a treatment: held against each other for patients of many weights and ages."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from itertools import chain, pairwise, product

from dosing.check.bands import LIMITS, DoseLimits, Person, told_apart
from dosing.ground import text, units
from dosing.ground.facts import Amount
from dosing.ground.units import Quantity, WrongUnit
from dosing.rules.rule_set import Treatment, Where
from dosing.rules.treatment import given_for
from dosing.rules.words import WHO

TEN_FOLD = 10
_LIGHT = 3  # kg: under it a fixed least gives way to the most per kg
_KILOGRAMS = frozenset({0.5, 1.5, 2.5, 5, 12, 30, 49.9, 80, 150, 400})
_TYPICAL = 30  # kg: the example that a fault is told with is the first found, so the nearest to this
_JUST_UNDER = 0.01  # kg: the last weight before a band's edge
_IN_ORDER = (
    *(("least", "most", "hard"), ("least", "start", "most"), ("guide", "hard")),
    *(("total", "total_hard"), ("total_guide", "total_hard")),
)
_NEVER_MORE = ("most", "hard", "total", "total_hard")

Found = tuple[str, str, DoseLimits | None, str]  # which fault, of which limit, for whom (None: of all), the words


def limit_faults(treatment: Treatment) -> Iterator[tuple[str, str]]:
    """Each fault once, with its entry within the treatment (``.bands.3.most``, empty for the whole) and an example."""
    of_units = list(dict.fromkeys(_unit_faults(treatment)))
    yield from (("", said) for said in of_units)
    if of_units:
        return  # what is stated in another kind cannot be compared
    first: dict[tuple[str, str], str] = {}
    for fault, name, limits, said in chain.from_iterable(map(_faults_of, given_for(treatment))):
        first.setdefault((fault, _entry(treatment, limits, name)), said)
    yield from ((entry, said) for (_, entry), said in first.items())


def _faults_of(treatment: Treatment) -> Iterator[Found]:
    """Those of the treatment as it is given for one indication."""
    pairs: dict[Hashable, tuple[DoseLimits, DoseLimits]] = {}
    every: dict[Hashable, DoseLimits] = {}
    for pair in _people(treatment):  # of those whose limits are the same the first stands for all
        pairs.setdefault(tuple(limits.alike for limits in pair), pair)
        for limits in reversed(pair):
            every.setdefault((limits.alike, _by(limits)), limits)
    for of_child, of_adult in pairs.values():
        yield from _child_faults(of_child, of_adult)
    for limits in every.values():
        yield from _order_faults(limits)


def _unit_faults(treatment: Treatment) -> Iterator[str]:
    allowed = {_measured(kind) for who in WHO for kind in treatment.kinds(who)}
    for name, stated in ((name, getattr(band, name)) for band in treatment.bands for name in LIMITS):
        if stated is not None and _measured(units.kind(stated.amount.unit)) not in allowed:
            yield f"{name} is stated in {stated.amount.unit}, the treatment in {treatment.unit}"
    if _measured(units.kind(treatment.unit)) not in allowed:
        yield f"its unit is {treatment.unit}, which is not among its units"
    of_recipes = [strength for recipe in treatment.recipes for strength in (recipe.stock, recipe.makes)]
    of_strength = {"mass"} if units.kind(treatment.unit) == "volume" else allowed  # saline of so many mg in each mL
    for strength in (*treatment.stocks, *treatment.concentrations, *of_recipes):
        if units.kind(strength.amount.unit).removesuffix("/volume") not in of_strength:
            yield f"a strength is stated in {strength.amount.unit}, the treatment in {treatment.unit}"


def _measured(kind: str) -> str:
    """What a kind of unit measures in the end, per kg and per minute or not."""
    return kind.removesuffix("/min").removesuffix("/kg")


def _people(treatment: Treatment) -> Iterator[tuple[DoseLimits, DoseLimits]]:
    """The limits of children of many weights and ages, each beside those of the adult of that weight.

    As far as the bands tell them apart.
    """
    bands = [band.where for band in treatment.bands]
    edges = {edge for where in bands for edge in (where.from_days, where.under_days) if edge is not None}
    ages = sorted({6000.0} | edges | {edge - 1 for edge in edges})
    for weight, apart in product(_weights(bands), list(told_apart(treatment))):
        known = {"weight": weight, **apart}
        of_adult = DoseLimits(treatment, Person(adult=True, days=None, **known))
        for days in ages:
            yield DoseLimits(treatment, Person(adult=False, days=days, **known)), of_adult


def _weights(bands: list[Where]) -> list[units.Quantity | None]:
    """Weights across the range and on both sides of each band's edge, typical ones first, and one that nobody knows."""
    edges = {edge for where in bands for edge in (where.from_kg, where.under_kg) if edge is not None}
    under = {edge - _JUST_UNDER for edge in edges if edge > _JUST_UNDER}
    kilograms = sorted(
        _KILOGRAMS | {edge for edge in edges if edge > 0} | under, key=lambda kg: (abs(kg - _TYPICAL), kg)
    )
    return [*(units.quantity(Amount(kg, "kg")) for kg in kilograms), None]


def _child_faults(of_child: DoseLimits, of_adult: DoseLimits) -> Iterator[Found]:
    treatment, child = of_child.treatment, of_child.person
    hard = of_child.limit("hard")
    if hard is None or (child.weight is not None and not hard.per_kg):
        yield "no hard limit per kg", "hard", of_child, "a child has no hard limit per kg"
    most, limit = of_child.exact("most"), of_child.ceiling("hard")
    if most is not None and limit is not None and most.units == limit.units and TEN_FOLD * most <= limit:
        words = f"ten times a child's standing limit is within its hard limit: {_said(treatment, most)}"
        yield "ten times", "most", of_child, f"{words}, {_said(treatment, limit)} for {_whom(child)}"
    for name in _NEVER_MORE:
        small, large = (_reach(limits, name) for limits in (of_child, of_adult))
        if small is not None and large is not None and small.units == large.units and small > large:
            pair = f"{_said(treatment, small)} against {_said(treatment, large)}"
            yield name, name, of_child, f"{name} of a child exceeds the adult's: {pair} for {_whom(child)}"


def _reach(limits: DoseLimits, name: str) -> Quantity | None:
    """What a limit comes to; a hard one of an unknown weight, its cap."""
    return limits.ceiling(name) if name in ("hard", "total_hard") else limits.exact(name)


def _order_faults(limits: DoseLimits) -> Iterator[Found]:
    treatment, person = limits.treatment, limits.person
    if limits.ceiling("hard") is None:
        known = "unknown" if person.weight is None else "known"
        by = _by(limits)
        yield f"no hard limit, {known}{by}", "", None, f"{person.who} of {known} weight{by}: no hard limit"
    for names in _IN_ORDER:
        values = [(name, _reach(limits, name)) for name in names]
        stated = [(name, value) for name, value in values if value is not None]
        if person.weight is not None and person.weight.magnitude < _LIGHT:
            stated = [pair for pair in stated if pair[0] != "least"]  # a fixed least gives way to the most per kg
        for (lower, low), (upper, high) in pairwise(stated):
            if low.units == high.units and low > high:
                pair = f"{_said(treatment, low)} against {_said(treatment, high)}"
                yield lower, lower, limits, f"{lower} exceeds {upper}: {pair} for {_whom(person)}{_by(limits)}"


def _by(limits: DoseLimits) -> str:
    """The route, where limits differ by it."""
    apart = any(band.where.routes for band in limits.treatment.bands)
    return f" by {text.route_text(limits.person.route)}" if apart and limits.person.route else ""


def _entry(treatment: Treatment, limits: DoseLimits | None, name: str) -> str:
    """Where in the treatment the limit stands that decides; empty where none is stated."""
    band = limits.band(name) if limits else None
    place = next((number for number, each in enumerate(treatment.bands) if each is band), None)
    return "" if place is None else f".bands.{place}.{name}"


def _said(treatment: Treatment, exact: Quantity) -> str:
    """What a limit comes to, in the treatment's unit."""
    try:
        return text.amount_text(units.amount(exact, treatment.unit.replace("/kg", "")))
    except WrongUnit:  # stated in bags
        return text.amount_text(units.amount(exact, "mL"))


def _whom(person: Person) -> str:
    weight = None if person.weight is None else text.amount_text(units.amount(person.weight, "kg"))
    return f"{'an' if person.adult else 'a'} {person.who} of {weight or 'unknown weight'}"
