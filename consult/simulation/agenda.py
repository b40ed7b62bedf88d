"""What a unit has still to do and when, and how its own minutes lie on the clock."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from consult.simulation.scenario import Step


@dataclass(frozen=True, slots=True)
class Pace:
    """Simulated minutes on the clock: history runs true, what comes after ``start`` is ``speed`` times as fast."""

    start: datetime
    speed: float = 1.0

    def due(self, minute: float) -> datetime:
        """When a simulated minute falls."""
        return self.start + timedelta(minutes=minute if minute < 0 else minute / self.speed)

    def later(self, moment: datetime, minutes: float) -> datetime:
        """The moment that lies this many simulated minutes on."""
        return moment + timedelta(minutes=minutes / self.rate(moment))

    def seconds(self, since: datetime, until: datetime) -> float:
        """Simulated seconds between two moments on the same side of ``start``."""
        return (until - since).total_seconds() * self.rate(since)

    def rate(self, moment: datetime) -> float:
        """Simulated seconds in a second of the clock."""
        return 1.0 if moment < self.start else self.speed


@dataclass(slots=True)
class Agenda:
    """Steps with the moment at which each is due."""

    items: list[tuple[datetime, Step]] = field(default_factory=list)

    def add(self, due: datetime, step: Step) -> None:
        """Put a step down for a moment."""
        self.items.append((due, step))

    def take_due(self, moment: datetime) -> list[Step]:
        """Take out the steps that are due, earliest first."""
        due = sorted((item for item in self.items if item[0] <= moment), key=lambda item: item[0])
        self.items = [item for item in self.items if item[0] > moment]
        return [step for _, step in due]
