"""One syringe, bag or cylinder: what is left in it, and when it is empty at the rate at which it runs.

Nothing here knows the time of day: what runs is told as it stood at a moment, with the rate from then on.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from fractions import Fraction

from dosing.ground import units
from dosing.ground.facts import Container, Dose
from dosing.held import oxygen
from dosing.rules.rule_set import RuleSet, Treatment

NOTHING = Fraction(0)
FORESEEN = timedelta(hours=24)  # clock times bear no date: none is told that lies further ahead


@dataclass(slots=True)
class ContainerState:
    """One container: ``volume`` and ``drawn`` in mL (of a cylinder L) at ``left_at``, ``per_min`` from then on.

    ``until`` ends a run that ends by itself; ``draws`` are the doses drawn from it at once, with their time.
    """

    container: Container
    treatment: Treatment | None
    volume: Fraction
    left_at: datetime
    drawn: Fraction = NOTHING
    per_min: Fraction = NOTHING
    until: datetime | None = None
    draws: list[tuple[datetime, Fraction]] = field(default_factory=list)
    last: Dose | None = None

    @property
    def left(self) -> Fraction:
        """What is left in it, never less than nothing."""
        return max(NOTHING, self.volume - self.drawn)

    @property
    def left_at_end(self) -> Fraction:
        """What is left of it once a run is over that ends by itself."""
        runs_for = minutes(self.until - self.left_at) if self.until else NOTHING
        return max(NOTHING, self.left - self.per_min * runs_for)

    @property
    def lasts_to(self) -> datetime | None:
        """When it is empty at its rate; None where it does not run, ends before, or lasts longer than a day."""
        if not self.per_min or self.left > self.per_min * minutes(FORESEEN):
            return None
        empty = self.left_at + span(self.left / self.per_min)
        return None if self.until is not None and self.until < empty else empty

    def in_hand(self, moment: datetime) -> bool:
        """Whether it was there at the moment, and not yet discarded."""
        return self.container.in_hand(moment)

    def take(self, volume: Fraction, moment: datetime, dose: Dose) -> None:
        """Draw a volume at once; more than there is, is kept: it means that a dose is double or missing."""
        self.drawn += volume
        self.left_at, self.last = max(self.left_at, moment), dose
        self.draws.append((moment, volume))

    def run(self, moment: datetime, end: datetime | None, per_min: Fraction) -> tuple[datetime, bool]:
        """Let it run from a moment on: until when it did, and whether it is then empty or discarded.

        With no ``end`` it still runs: the answer is when it will be empty.
        """
        gone, begin = self.container.discarded_at, max(moment, self.container.at)
        if gone is not None and gone <= begin:
            return moment, True
        stop = min((each for each in (end, gone) if each is not None), default=None)
        if stop is not None and stop <= begin:
            return moment, False
        if self.drawn >= self.volume:  # empty already by the reckoning: it lasted to then, whatever still runs
            self.per_min = per_min if stop is None else NOTHING
            return begin, True
        if stop is not None and (drawn := self.drawn + per_min * minutes(stop - begin)) < self.volume:
            self.drawn, self.left_at, self.per_min = drawn, stop, NOTHING
            return stop, stop == gone
        self.left_at, self.per_min = begin, per_min
        empty = begin + span(self.left / per_min)
        if stop is None:
            return empty, True
        self.drawn, self.left_at, self.per_min = self.volume, min(empty, stop), NOTHING
        return self.left_at, True


def as_filled(container: Container, rules: RuleSet) -> ContainerState:
    """A container as it was when it was mixed, hung or opened."""
    if container.cylinder is not None:
        volume = oxygen.liters(container.cylinder)
    else:
        volume = units.number(units.quantity(container.volume), "mL") if container.volume else NOTHING
    return ContainerState(container, rules.treatments.get(container.treatment or ""), volume, container.at)


def minutes(length: timedelta) -> Fraction:
    """A length of time in minutes."""
    return Fraction(length // timedelta(microseconds=1), 60_000_000)


def span(length_min: Fraction) -> timedelta:
    """A length of time of so many minutes, held to what a time of day can be reckoned with."""
    return timedelta(minutes=min(float(length_min), 1e7))
