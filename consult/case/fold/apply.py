"""The only way in which a case changes: its state, and the event that comes next."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar, cast

from msgspec.structs import replace

from consult import events
from consult.case.fold import alerted, known, measured, ordered, questions, treated
from consult.case.fold.entry import Entry
from consult.events import Event
from consult.state.case import CaseState

Kind = TypeVar("Kind", bound=Event)


@dataclass(frozen=True, slots=True)
class Fold(Generic[Kind]):
    """What an event of one kind makes of the state."""

    kind: type[Kind]
    fold: Callable[[CaseState, Kind, Entry], CaseState]

    def after(self, state: CaseState, entry: Entry) -> CaseState:
        """The state after an entry of this kind."""
        if not isinstance(entry.event, self.kind):
            raise TypeError(entry.event)
        return self.fold(state, entry.event, entry)


class Folding(Protocol):
    """A fold, whichever its kind."""

    def after(self, state: CaseState, entry: Entry) -> CaseState:
        """The state after an entry of its kind."""


def _said(state: CaseState, event: Event, entry: Entry) -> CaseState:
    """Words change nothing of the state."""
    return state


FOLDS: Mapping[type[Event], Folding] = {
    events.VitalsRecorded: Fold(events.VitalsRecorded, measured.recorded),
    events.InterventionRecorded: Fold(events.InterventionRecorded, treated.recorded),
    events.InterventionCountersigned: Fold(events.InterventionCountersigned, treated.countersigned),
    events.InterventionChanged: Fold(events.InterventionChanged, treated.changed),
    events.InterventionJudgedAnew: Fold(events.InterventionJudgedAnew, treated.judged_anew),
    events.ProcedureRecorded: Fold(events.ProcedureRecorded, treated.procedure),
    events.ContainerRecorded: Fold(events.ContainerRecorded, treated.mixed),
    events.ContainerDiscarded: Fold(events.ContainerDiscarded, treated.discarded),
    events.ReassessmentMoved: Fold(events.ReassessmentMoved, treated.moved),
    events.ReassessmentRenewed: Fold(events.ReassessmentRenewed, treated.renewed),
    events.OrderRequested: Fold(events.OrderRequested, ordered.stepped),
    events.OrderPlaced: Fold(events.OrderPlaced, ordered.stepped),
    events.OrderDecided: Fold(events.OrderDecided, ordered.stepped),
    events.OrderAnswered: Fold(events.OrderAnswered, ordered.stepped),
    events.OrderCosigned: Fold(events.OrderCosigned, ordered.stepped),
    events.OrderReadBack: Fold(events.OrderReadBack, ordered.stepped),
    events.OrderSetBack: Fold(events.OrderSetBack, ordered.stepped),
    events.OrderRestated: Fold(events.OrderRestated, ordered.stepped),
    events.OrderEnded: Fold(events.OrderEnded, ordered.stepped),
    events.OrdersSeen: Fold(events.OrdersSeen, ordered.seen),
    events.QuestionAsked: Fold(events.QuestionAsked, questions.asked),
    events.QuestionsSeen: Fold(events.QuestionsSeen, questions.seen),
    events.QuestionWithdrawn: Fold(events.QuestionWithdrawn, questions.asked),
    events.InstructionGiven: Fold(events.InstructionGiven, questions.given),
    events.InstructionMoved: Fold(events.InstructionMoved, questions.moved),
    events.DestinationSeen: Fold(events.DestinationSeen, questions.destination_seen),
    events.AlertRaised: Fold(events.AlertRaised, alerted.raised),
    events.AlertChanged: Fold(events.AlertChanged, alerted.changed),
    events.AlertAcknowledged: Fold(events.AlertAcknowledged, alerted.acknowledged),
    events.AlertEscalated: Fold(events.AlertEscalated, alerted.escalated),
    events.AlertCleared: Fold(events.AlertCleared, alerted.cleared),
    events.CaseChanged: Fold(events.CaseChanged, known.changed),
    events.CaseAccepted: Fold(events.CaseAccepted, known.accepted),
    events.ControlOffered: Fold(events.ControlOffered, known.offered),
    events.CaseReleased: Fold(events.CaseReleased, known.released),
    events.CaseMoved: Fold(events.CaseMoved, known.moved),
    events.MoveSeen: Fold(events.MoveSeen, known.move_seen),
    events.CaseHandedOver: Fold(events.CaseHandedOver, known.handed_over),
    events.CaseClosed: Fold(events.CaseClosed, known.closed),
    events.CaseReopened: Fold(events.CaseReopened, known.reopened),
    events.CaseRulesChanged: Fold(events.CaseRulesChanged, known.rules_changed),
    events.PhaseChanged: Fold(events.PhaseChanged, known.phase),
    events.GoalSet: Fold(events.GoalSet, known.goal),
    events.CoverageAnnounced: Fold(events.CoverageAnnounced, known.coverage),
    events.EntryCorrected: Fold(events.EntryCorrected, known.corrected),
    events.CaseTakenOver: Fold(events.CaseTakenOver, _said),
    events.NoteAdded: Fold(events.NoteAdded, _said),
    events.ReviewAdded: Fold(events.ReviewAdded, _said),
    events.CardRebuilt: Fold(events.CardRebuilt, _said),
}


def apply(state: CaseState | None, entry: Entry) -> CaseState:
    """The state after one more entry; only the first, that the case was opened, has none before it."""
    if state is None:
        return replace(known.opened(cast(events.CaseOpened, entry.event), entry), seq=1)
    after = FOLDS[type(entry.event)].after(state, entry)
    if entry.by and entry.by.is_crew:
        after = ordered.resumed(after, entry)
    return replace(after, seq=state.seq + 1)


def fold(entries: Iterable[Entry], state: CaseState | None = None) -> CaseState:
    """The state after all of these entries, in their order; raises ValueError where there is none."""
    for entry in entries:
        state = apply(state, entry)
    if state is None:
        raise ValueError("no entries")
    return state
