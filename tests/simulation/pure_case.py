"""One case on the pure core alone: decided, folded and settled in memory, with the time that it is told."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import msgspec

from consult import events
from consult.case.decide import cases, interventions, orders, read_back, vitals, words
from consult.case.decide.asked import Asked, Decided, Known, StoredDose
from consult.case.entries import (
    AcceptEntry,
    CaseEntry,
    ChangeEntry,
    CoverageEntry,
    DecisionEntry,
    DoseEntry,
    NoticeEntry,
    OrderEntry,
    ReasonEntry,
)
from consult.case.fold.apply import apply
from consult.case.fold.entry import Entry
from consult.case.fold.ordered import order_told
from consult.case.settle import Settling, settle, tell_arrival
from consult.events import Judged
from consult.state.case import CaseState, Presence, facts_of
from consult.state.parts import Alert, Author, Given, KeptReading, Order, RulesInForce, Said, UnitNamed
from dosing.ground.facts import Facts, Patient
from dosing.rules.rule_set import RuleSet

CREW, PHYSICIAN = Author("crew", "J. Osk", "crew"), Author("physician", "Dr. Merrin", "physician")
SECOND = timedelta(seconds=1)


@dataclass(slots=True)
class Memory:
    """What of the case is past: all of it stands in the state of so short a case, but for what has ended."""

    state: CaseState
    doses_told: dict[str, StoredDose] = field(default_factory=dict)
    ended: dict[str, Order] = field(default_factory=dict)

    def readings_before(self, at: datetime) -> tuple[KeptReading, ...]:
        return tuple(each for each in self.state.readings if each.taken_at <= at)

    def readings_since(self, at: datetime) -> tuple[KeptReading, ...]:
        return tuple(each for each in self.state.readings if each.taken_at >= at)

    def order(self, order_id: str) -> Order | None:
        return self.ended.get(order_id)

    def ended_orders(self, treatment: str, states: Iterable[str]) -> tuple[Order, ...]:
        known = [each for each in self.ended.values() if each.treatment == treatment and each.state in states]
        return tuple(reversed(known))

    def question(self, question_id: str) -> None:
        return None

    def instruction(self, instruction_id: str) -> None:
        return None

    def every_dose(self) -> tuple[Given, ...]:
        return self.state.doses

    def dose(self, dose_id: str) -> StoredDose:
        return self.doses_told[dose_id]

    def doses(self, dose_ids: Iterable[str]) -> tuple[StoredDose, ...]:
        return tuple(self.doses_told[each] for each in sorted(dose_ids, key=lambda one: self.state.dose(one).given_at))

    def unanswered(self) -> tuple[()]:
        return ()

    def alert(self, kind: str, cause: str) -> None:
        return None

    def newest_alert(self, but: Iterable[str]) -> None:
        return None


class PureCase:
    """An open case: what is entered goes through the decision, the fold and the settling, as in a write."""

    def __init__(self, patient: Patient, rules: RuleSet, opened_at: datetime, **known: Any) -> None:
        in_force = RulesInForce(name=rules.name, version=rules.version, digest=rules.digest, approved=True)
        entry = CaseEntry(patient=patient, **known)
        asked = self._asked(entry, CREW, opened_at, opened_at, "case")
        opened = cases.open_case(asked, UnitNamed("unit", "Kestrel 2"), Judged(record="rules", rule_set=in_force), None)
        self.rules, self._ids = rules, 0
        self.state = apply(None, Entry(opened, opened_at, opened_at, CREW))
        self.memory = Memory(self.state)
        self.presence = Presence(last_contact_at=opened_at)
        self.wake_at: datetime | None = opened_at
        self.told: list[Entry] = []

    def vitals(self, values: dict[str, Any], at: datetime, now: datetime, *, arriving: bool = False) -> None:
        self._enter(vitals.record_vitals, vitals.VitalsEntry(taken_at=at, **values), at, now, arriving=arriving)

    def give(self, entry: DoseEntry, now: datetime, *, arriving: bool = False) -> str:
        dose_id = self._enter(interventions.record_intervention, entry, entry.given_at, now, arriving=arriving)
        check = self.told_of(events.InterventionRecorded, dose_id).check
        order = self.state.order(str(entry.order)) if entry.order else None
        self.memory.doses_told[dose_id] = StoredDose(dose_id, entry, None, check, check, order)
        return dose_id

    def change(self, dose_id: str, entry: ChangeEntry, at: datetime, now: datetime, *, arriving: bool = False) -> None:
        self._enter(lambda known, asked: interventions.change_intervention(known, asked, dose_id), entry, at, now,
                    arriving=arriving)  # fmt: skip

    def request(self, entry: OrderEntry, now: datetime) -> str:
        return self._enter(orders.request_order, entry, now, now)

    def decide(self, order_id: str, entry: DecisionEntry, now: datetime) -> None:
        self._of_order(orders.decide, order_id, entry, now, PHYSICIAN)

    def read_back(self, order_id: str, said: Said, now: datetime) -> None:
        self._of_order(read_back.read_back, order_id, said, now, CREW)

    def not_given(self, order_id: str, now: datetime) -> None:
        self._of_order(orders.not_given, order_id, ReasonEntry(reason="pressure came up"), now, CREW)

    def _of_order(self, step: Callable[..., Decided], order_id: str, entry: Any, now: datetime, by: Author) -> None:
        order = self.state.order(order_id)
        if order is not None:
            self._enter(lambda known, asked: step(known, asked, order), entry, now, now, by)

    def accept(self, now: datetime) -> None:
        """A physician takes control, unless one has it."""
        if self.state.physician is None:
            self._enter(cases.accept, AcceptEntry(), now, now, PHYSICIAN)

    def coverage(self, until: datetime, now: datetime) -> None:
        self._enter(cases.coverage, CoverageEntry(until=until), now, now)

    def acknowledge(self, alert: Alert, now: datetime) -> None:
        """By a physician, who so looks at the case; one that is gone by then is left alone."""
        alert = next((each for each in self.state.alerts if each.id == alert.id), alert)
        if alert in self.state.alerts and not alert.acknowledged:
            self.presence = msgspec.structs.replace(self.presence, attended_at=now)
            self._enter(lambda known, asked: words.acknowledge(known, asked, alert), NoticeEntry(), now, now, PHYSICIAN)

    def hear(self, now: datetime) -> None:
        """The unit's device asks the board for something."""
        self.presence = msgspec.structs.replace(self.presence, last_contact_at=now)
        self.settle(now)

    def settle(self, now: datetime) -> None:
        """What a sweep does."""
        self._follow(Decided(), now, arriving=False)

    @property
    def facts(self) -> Facts:
        """The case as the rules see it."""
        return facts_of(self.state)

    def alert_of(self, event: Any) -> Alert | None:
        """The open alert that an event is about."""
        return next((each for each in self.state.alerts if each.id == event.alert), None)

    def told_of(self, kind: type[Any], entry_id: str) -> Any:
        """The event of this kind and id that was told last."""
        found: list[Any] = [each.event for each in self.told if type(each.event) is kind]
        return next(event for event in reversed(found) if event.id == entry_id)

    def _enter(
        self,
        decide: Callable[..., Decided],
        content: Any,
        at: datetime,
        now: datetime,
        by: Author = CREW,
        *,
        arriving: bool = False,
    ) -> str:
        asked = self._asked(content, by, at, now, self._new_id())
        if by.is_crew:
            self.presence = msgspec.structs.replace(self.presence, last_contact_at=now)
        decided = decide(Known(self.state, self.rules, self.memory), asked)
        for event in decided.events:
            self._tell(Entry(event, at, now, by))
        self._follow(decided, now, arriving=arriving)
        return asked.id

    def _follow(self, decided: Decided, now: datetime, *, arriving: bool) -> None:
        case = Settling(self.state, self.rules, self.presence, now, self._new_id, self._became, self.memory)
        if arriving:
            tell_arrival(case, decided)
            self.wake_at = now + SECOND
        else:
            self.wake_at = settle(case, decided)
        for entry in case.entries:
            self._keep(entry)
        self._stands(case.state)

    def _tell(self, entry: Entry) -> None:
        self._keep(entry)
        self._stands(apply(self.state, entry))

    def _keep(self, entry: Entry) -> None:
        self.told.append(entry)
        if order := order_told(entry.event):
            self.memory.ended[order.id] = order

    def _stands(self, state: CaseState) -> None:
        self.state = self.memory.state = state

    def _became(self, order_id: str) -> Order | None:
        return self.memory.ended.get(order_id)

    def _new_id(self) -> str:
        self._ids += 1
        return f"{self._ids:08d}"

    @staticmethod
    def _asked(content: Any, by: Author, at: datetime, now: datetime, entry_id: str) -> Asked[Any]:
        return Asked(content, msgspec.Raw(msgspec.json.encode(content)), entry_id, by, now, at)
