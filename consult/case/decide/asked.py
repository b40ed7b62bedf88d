"""What every decision gets and gives: the case as it is known, what is asked of it, and what comes of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Generic, Protocol, TypeVar

from msgspec import Raw, structs

from consult.case.entries import DoseEntry
from consult.events import Event, Measured
from consult.state.case import CaseState, facts_of
from consult.state.check import Check, Finding
from consult.state.parts import Alert, Author, Countersigned, Given, InHand, KeptReading, Order, VoiceOrder
from consult.state.questions import Instruction, Question
from dosing.check.findings import BEYOND
from dosing.ground.facts import Facts, Reassessment
from dosing.ground.given_before import Earlier
from dosing.ground.kinds import HAPPENINGS
from dosing.rules.rule_set import RuleSet
from dosing.watch.causes import Cause

Content = TypeVar("Content", covariant=True)
DOSE_OUTSIDE_LIMITS, ORDER_NOT_GIVEN = "dose_outside_limits", "order_not_given"


@dataclass(frozen=True, slots=True)
class StoredDose:
    """A dose as it was told, the check made then and the one in force, the order that it names as that stands now."""

    id: str
    entry: DoseEntry
    offset_s: int | None
    check: Check
    check_now: Check
    order: Order | None
    countersigned: Countersigned | None = None


class Past(Protocol):
    """What of the case is older than its state keeps, looked up while the case is locked."""

    def readings_before(self, at: datetime) -> tuple[KeptReading, ...]:
        """The newest sets up to a moment, and the newest pressures, oldest first."""

    def readings_since(self, at: datetime) -> tuple[KeptReading, ...]:
        """All sets from a moment on, oldest first."""

    def order(self, order_id: str) -> Order | None:
        """An order of this case, open or not."""

    def ended_orders(self, treatment: str, states: Iterable[str]) -> tuple[Order, ...]:
        """The orders of a treatment in these states, newest first."""

    def question(self, question_id: str) -> Question | None:
        """A question of this case, open or not."""

    def instruction(self, instruction_id: str) -> Instruction | None:
        """An instruction of this case, open or not."""

    def every_dose(self) -> tuple[Given, ...]:
        """Each dose as it stands, oldest first."""

    def dose(self, dose_id: str) -> StoredDose:
        """A dose as it was told."""

    def doses(self, dose_ids: Iterable[str]) -> tuple[StoredDose, ...]:
        """These doses as they were told, oldest first."""

    def without_reading(self, reading_id: str) -> Measured:
        """What the measurements are without this set."""

    def helped_by(self, reading_id: str) -> tuple[Reassessment, ...]:
        """The reassessments that are done and that this set may have helped to complete."""

    def unanswered(self) -> tuple[Reassessment, ...]:
        """The overdue readings that the state only counts, soonest first."""

    def alert(self, kind: str, cause: str) -> Alert | None:
        """The open alert of this kind and cause."""

    def newest_alert(self, but: Iterable[str]) -> Alert | None:
        """The newest open alert that the state may only count, but for these."""

    def entry_state(self, kind: str, entry_id: str) -> bool | None:
        """Whether an entry of this kind is marked as entered in error; None where there is none."""

    def offset_of_container(self, container_id: str) -> int | None:
        """The correction of the entry that told of a container."""


@dataclass(frozen=True, slots=True)
class Known:
    """The case as it is known when something is decided; `kept` is its state where `state` has more doses."""

    state: CaseState
    rules: RuleSet
    past: Past
    kept: CaseState | None = None

    @property
    def facts(self) -> Facts:
        """The case as the rules look at it."""
        return facts_of(self.state)

    def whole(self, at: datetime | None = None) -> Known:
        """The case with each of its doses, where `at`, the moment that is asked about, lies among those added up."""
        until = self.state.earlier.until
        if until is None or (at and at > until):
            return self
        every = structs.replace(self.state, doses=self.past.every_dose(), earlier=Earlier())
        return replace(self, state=every, kept=self.state)

    @property
    def next_seq(self) -> int:
        """The journal number that the decision's first event will have."""
        return self.state.seq + 1


@dataclass(frozen=True, slots=True)
class Asked(Generic[Content]):
    """One entry: its content with times put right, and as it was `sent`; by whom; `at` when it happened, else now.

    `offset_s` is by how much its times were corrected.
    """

    content: Content
    sent: Raw
    id: str
    by: Author
    now: datetime
    at: datetime
    offset_s: int | None = None


@dataclass(frozen=True, slots=True)
class Ended:
    """A cause of alerts that a decision ends, and why."""

    kind: str
    cause: str
    because: str


def open_alert(state: CaseState, past: Past, kind: str, cause: str) -> Alert | None:
    """The open alert of this kind and cause, be it one that the state only counts."""
    found, counted = state.alert(kind, cause), state.more_alerts and kind in HAPPENINGS
    return past.alert(kind, cause) if found is None and counted else found


@dataclass(frozen=True, slots=True)
class Answered:
    """An overdue reading of those that the state only counts, and when it was taken after all."""

    asked: Reassessment
    at: datetime


@dataclass(slots=True)
class Decided:
    """What comes of it: the events, the decision's own first; the causes of alerts that it brings about and ends.

    `answered` are what it tells the end of, of what the state only counts.
    """

    events: list[Event] = field(default_factory=list)
    happened: list[Cause] = field(default_factory=list)
    ended: list[Ended] = field(default_factory=list)
    answered: list[Answered] = field(default_factory=list)

    def add(self, other: Decided) -> None:
        """Take in what else comes of it."""
        self.events += other.events
        self.happened += other.happened
        self.ended += other.ended
        self.answered += other.answered


def outside(check: Check, *, voice: VoiceOrder | None = None) -> tuple[Finding, ...]:
    """The findings of a check that raise an alarm.

    What a physician ordered by ``voice`` raises none while nobody denies it, but for a hard limit: that no one passes
    alone.
    """
    levels = BEYOND[1:] if voice and voice.stands else BEYOND
    return tuple(each for each in check.findings if each.level in levels)


def alarm(dose: Given, found: Iterable[Finding], at: datetime) -> Cause:
    """One alert that names all findings that wanted an order."""
    text = f"{dose.shown}: {'; '.join(each.text for each in found)}"[:500]
    return Cause(DOSE_OUTSIDE_LIMITS, dose.id, "high", text, at)


def container(state: CaseState, container_id: str) -> InHand | None:
    """The syringe, bag or cylinder with this id."""
    return next((each for each in state.containers if each.id == container_id), None)
