"""One look at a case: the causes that it finds, and when time alone could change them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from msgspec import Struct

from dosing.ground.facts import Dose, Facts
from dosing.ground.text import clock as clock
from dosing.rules.rule_set import RuleSet

HIGH, MEDIUM, LOW = "high", "medium", "low"


class Cause(Struct, frozen=True):
    """One thing that needs a person: an alert's kind, the cause within it, its priority, and since when."""

    kind: str
    cause: str
    priority: str
    text: str
    since: datetime


class Watched(Struct, frozen=True):
    """The causes that stand; when to look again; ids of reassessments and orders whose state must change now.

    ``lasting`` are causes that raise nothing, but do not let an alert that is open end.
    """

    causes: tuple[Cause, ...] = ()
    lasting: tuple[Cause, ...] = ()
    next_at: datetime | None = None
    overdue: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    expired: tuple[str, ...] = ()


@dataclass(slots=True)
class Look:
    """One look at a case while its causes are gathered."""

    facts: Facts
    rules: RuleSet
    now: datetime
    causes: list[Cause] = field(default_factory=list)
    lasting: list[Cause] = field(default_factory=list)
    changes: list[datetime] = field(default_factory=list)
    states: dict[str, list[str]] = field(default_factory=lambda: {"overdue": [], "unknown": [], "expired": []})
    doses: dict[str, Dose] = field(default_factory=dict)
    pressors: list[Dose] = field(default_factory=list)

    def passed(self, moment: datetime) -> bool:
        """Whether the moment has come; if not, it is one at which to look again."""
        if moment > self.now:
            self.changes.append(moment)
        return moment <= self.now

    def stands(self, kind: str, cause: str, priority: str, text: str, since: datetime) -> None:
        """One cause more."""
        self.causes.append(Cause(kind, cause, priority, text, since))

    def title(self, treatment: str, told: str) -> str:
        """What a treatment is called; one that the rule set lacks as it was told."""
        known = self.rules.treatments.get(treatment)
        return known.title if known else told or treatment
