"""The check of a dose as the journal keeps it and the API answers it."""

from __future__ import annotations

from typing import Annotated

from msgspec import Struct

from dosing.check.findings import BEYOND, LEVELS
from dosing.ground.facts import Amount, Weight
from dosing.ground.kinds import Time, one_of
from dosing.ground.seen import Seen


class Finding(Struct, frozen=True, kw_only=True):
    """One thing a person must see before the dose, and where its limit comes from."""

    code: str
    level: Annotated[str, one_of(*LEVELS[1:])]
    text: str
    limit: Amount | None
    source: str


class KnownSince(Struct, frozen=True, kw_only=True):
    """What became known of the patient while something ran, and would have wanted an order: since when, and what."""

    code: str
    text: str
    limit: Amount | None = None
    at: Time


class Give(Struct, frozen=True, kw_only=True):
    """What is to be drawn up, run or injected; ``dose`` None if a drug that the rule set lacks was told in words.

    ``strength`` is what the volume or rate is of, ``over_min`` how long a bolus runs, ``elemental`` the calcium in a
    salt; ``shown`` says all of it on one line. ``shortest_min`` is the shortest time for it, if none was stated.
    """

    dose: Amount | None
    volume: Amount | None
    rate: Amount | None
    shown: str
    strength: Amount | None = None
    over_min: float | None = None
    elemental: Amount | None = None
    syringe: Amount | None = None
    if_swapped: tuple[str, ...] = ()
    shortest_min: float | None = None


class WeightRange(Struct, frozen=True, kw_only=True):
    """For which true weights, in kg, the verdict on a guessed one holds; null is no bound.

    ``lighter`` and ``heavier`` are the verdicts just beyond; ``text`` and ``beyond`` say it in words.
    """

    least: float | None
    most: float | None
    text: str
    lighter: str | None
    heavier: str | None
    beyond: str


class PressureThen(Struct, frozen=True, kw_only=True):
    """The newest pressure that the check knew; ``measured`` is its text without the goal."""

    text: str
    measured: str = ""
    taken_at: Time


class RulesName(Struct, frozen=True, kw_only=True):
    """A rule set by its name, version and digest."""

    name: str
    version: str
    digest: str


class Check(Struct, frozen=True, kw_only=True):
    """A proposal held against the rules, ``at`` the moment for which it holds; the verdict is the worst finding.

    ``weight_range`` is there where the weight is guessed and the verdict hangs on it.
    """

    verdict: Annotated[str, one_of(*LEVELS)]
    findings: tuple[Finding, ...]
    give: Give | None
    weight_used: Weight | None
    weight_range: WeightRange | None
    next_at: Time | None
    at: Time | None
    pressure: PressureThen | None
    rule_set: RulesName

    @property
    def beyond(self) -> tuple[Finding, ...]:
        """The findings that lie beyond a crew's standing limits."""
        return tuple(each for each in self.findings if each.level in BEYOND)

    @property
    def seen(self) -> tuple[Seen, ...]:
        """The same, as the rules look at what a physician saw."""
        return tuple(Seen(each.code, each.text, each.limit) for each in self.beyond)
