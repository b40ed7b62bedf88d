"""The state of one case: all that its journal has said so far, as one value.

Nothing in it changes by itself: `consult.case.fold` makes the next state of the one before and an event.
"""

from __future__ import annotations

from datetime import datetime
from itertools import takewhile
from typing import Annotated

from msgspec import Struct

from consult.state.control import FormerUnit, Offer
from consult.state.done import Done, Shock
from consult.state.parts import (
    Alert,
    Given,
    InHand,
    KeptLatest,
    KeptReading,
    Named,
    Order,
    RulesInForce,
    UnitNamed,
    WayIn,
)
from consult.state.questions import GIVEN, DestinationTold, Instruction, Question
from dosing.ground.airways import Airway
from dosing.ground.facts import Countersign, Facts, FormerAims, Goal, OxygenFlow, Patient, Reassessment
from dosing.ground.given_before import Earlier
from dosing.ground.kinds import Id, Time, one_of
from dosing.ground.phases import TRANSPORT, PhaseChange
from dosing.ground.waiting import Waiting
from dosing.patient import pressure

OPEN, HANDED_OVER, CLOSED = "open", "handed_over", "closed"
Stands = Annotated[str, one_of(OPEN, HANDED_OVER, CLOSED)]


class CaseState(Struct, frozen=True, kw_only=True):
    """One case. ``readings`` are the newest sets, oldest first; ``latest`` has each measurement's newest value.

    ``former_goals`` are the newest that physicians had set before ``goal``, ``former_aims`` the newest that the rules
    aimed at before, oldest first.
    Of ``doses`` the newest are kept one by one, and what runs or waits for a reading; those before are in ``earlier``.
    They and ``containers`` are in the order in which they were given or mixed, the newest ``procedures`` and all
    ``shocks`` in that in which they were told; ``orders``, ``questions``, ``instructions``, ``alerts`` and
    ``reassessments`` are those that are open, ``flagged`` the ids of doses that raised an alarm for being outside
    limits, ``countersigns`` the voice orders that wait for their physician, ``destination_told`` what the other side
    must still see.
    ``unanswered`` says how many further readings are overdue, by what they were asked for after, ``more_alerts`` how
    many further alerts are open: of both the newest stand one by one. ``not_accepted_since``: since when no physician
    has control; ``offered``: to whom the one who has offers it; ``moved_not_seen_since``: since when nobody of the crew
    that the patient was moved to has opened the case.
    """

    id: Id
    unit: UnitNamed
    rule_set: RulesInForce
    rules: str  # the id of the record that holds them
    opened_at: Time
    seq: int = 0
    version: int = 0
    physician: Named | None = None
    state: Stands = OPEN
    ended_at: Time | None = None
    outcome: str = ""
    incident: str = ""
    patient: Patient = Patient()
    complaint: str = ""
    impression: str = "undifferentiated"
    destination: str = ""
    eta: Time | None = None
    goal: Goal | None = None
    former_goals: tuple[Goal, ...] = ()
    former_aims: tuple[FormerAims, ...] = ()
    phases: tuple[PhaseChange, ...] = ()
    no_coverage_until: Time | None = None
    coverage_back_from: Time | None = None
    heard_of_at: Time | None = None
    not_accepted_since: Time | None = None
    former_units: tuple[FormerUnit, ...] = ()
    moved_not_seen_since: Time | None = None
    offered: Offer | None = None
    readings: tuple[KeptReading, ...] = ()
    latest: dict[str, KeptLatest] = {}
    oxygen: tuple[OxygenFlow, ...] = ()
    doses: tuple[Given, ...] = ()
    earlier: Earlier = Earlier()
    flagged: tuple[str, ...] = ()
    containers: tuple[InHand, ...] = ()
    access: tuple[WayIn, ...] = ()
    procedures: tuple[Done, ...] = ()
    shocks: tuple[Shock, ...] = ()
    reassessments: tuple[Reassessment, ...] = ()
    orders: tuple[Order, ...] = ()
    questions: tuple[Question, ...] = ()
    instructions: tuple[Instruction, ...] = ()
    destination_told: DestinationTold | None = None
    countersigns: tuple[Countersign, ...] = ()
    alerts: tuple[Alert, ...] = ()
    unanswered: dict[str, int] = {}
    more_alerts: int = 0

    @property
    def phase(self) -> str:
        """The phase that the case is in."""
        return self.phases[-1].phase if self.phases else TRANSPORT

    @property
    def phase_since(self) -> datetime | None:
        """Since when it is in this phase; None from the beginning on."""
        alike = list(takewhile(lambda each: each.phase == self.phase, reversed(self.phases)))
        return alike[-1].at if alike else None

    @property
    def pressure(self) -> KeptReading | None:
        """The newest set that says something about the pressure."""
        return next((each for each in reversed(self.readings) if pressure.holds_pressure(each)), None)

    def dose(self, dose_id: str) -> Given:
        """The dose with this id; raises LookupError where there is none."""
        return _by_id(self.doses, dose_id)

    def keeps(self, dose_id: str) -> bool:
        """Whether this dose is kept one by one."""
        return any(each.id == dose_id for each in self.doses)

    def runs(self, dose_id: str) -> bool:
        """Whether this dose runs or is held."""
        return any(each.id == dose_id and each.goes_on for each in self.doses)

    def order(self, order_id: str) -> Order | None:
        """The open order with this id."""
        return next((each for each in self.orders if each.id == order_id), None)

    def question(self, question_id: str) -> Question | None:
        """The open question with this id."""
        return next((each for each in self.questions if each.id == question_id), None)

    def instruction(self, instruction_id: str) -> Instruction | None:
        """The open instruction with this id."""
        return next((each for each in self.instructions if each.id == instruction_id), None)

    def alert(self, kind: str, cause: str) -> Alert | None:
        """The open alert of this kind and cause."""
        return next((each for each in self.alerts if (each.kind, each.cause) == (kind, cause)), None)


class Presence(Struct, frozen=True, kw_only=True):
    """Who was heard of without an entry: the unit's last contact, a physician's last look; no part of the fold."""

    last_contact_at: Time
    attended_at: Time | None = None


def _by_id(doses: tuple[Given, ...], dose_id: str) -> Given:
    found = next((each for each in doses if each.id == dose_id), None)
    if found is None:
        raise LookupError(dose_id)
    return found


def _waits(told: Question | Instruction) -> Waiting:
    if isinstance(told, Question):
        return Waiting(id=told.id, asked=True, about=told.topic.replace("_", " "), since=told.waiting_since)
    return Waiting(id=told.id, asked=False, about="", since=told.waiting_since)


def facts_of(state: CaseState, last_contact_at: datetime | None = None) -> Facts:
    """The case as the rules look at it, without what was entered in error."""
    return Facts(
        patient=state.patient,
        opened_at=state.opened_at,
        impression=state.impression,
        complaint=state.complaint,
        state=state.state,
        goal=state.goal,
        former_goals=state.former_goals,
        former_aims=state.former_aims,
        readings=state.readings,
        latest={name: latest for name, latest in state.latest.items() if latest.value is not None},
        doses=tuple(dose for dose in state.doses if not dose.in_error),
        earlier=state.earlier,
        reassessments=state.reassessments,
        unanswered=state.unanswered,
        orders=tuple(order.for_rules() for order in state.orders),
        waiting=(*map(_waits, state.questions), *(_waits(each) for each in state.instructions if each.state == GIVEN)),
        countersigns=state.countersigns,
        containers=tuple(each for each in state.containers if not each.in_error),
        oxygen=state.oxygen,
        access=state.access,
        airways=tuple(
            Airway(id=each.id, at=each.at, site=each.site, outcome=each.outcome)
            for each in state.procedures
            if each.procedure == "airway"
        ),
        phases=state.phases,
        eta=state.eta,
        ended_at=state.ended_at,
        last_contact_at=last_contact_at,
        no_coverage_until=state.no_coverage_until,
        coverage_back_from=state.coverage_back_from,
        heard_of_at=state.heard_of_at,
        not_accepted_since=state.not_accepted_since,
        moved_not_seen_since=state.moved_not_seen_since,
    )
