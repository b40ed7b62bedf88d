"""Every kind of journal entry: one small dataclass each, whose docstring is its documentation.

`kind` is the name in the journal; the fields are what the journal keeps under `data`.
"""

from consult.events.alerts import AlertAcknowledged, AlertChanged, AlertCleared, AlertEscalated, AlertRaised
from consult.events.base import Event
from consult.events.care import (
    ContainerDiscarded,
    ContainerRecorded,
    InterventionChanged,
    InterventionJudgedAnew,
    InterventionRecorded,
    ProcedureRecorded,
    ReassessmentMoved,
    VitalsRecorded,
)
from consult.events.case import (
    CardRebuilt,
    CaseAccepted,
    CaseChanged,
    CaseClosed,
    CaseHandedOver,
    CaseOpened,
    CaseReopened,
    CaseTakenOver,
    EntryCorrected,
    GoalSet,
    NoteAdded,
    ReviewAdded,
)
from consult.events.orders import OrderDecided, OrderEnded, OrderPlaced, OrderReadBack, OrderRequested, OrdersSeen
from consult.events.people import (
    AgencyCreated,
    MemberAdded,
    MemberEnded,
    SignInLinkIssued,
    SignInLinkUsed,
    TokenIssued,
    TokenRevoked,
    UnitAdded,
)
from consult.events.rules import CaseRulesChanged, RuleSetAdopted

__all__ = [
    "AgencyCreated",
    "AlertAcknowledged",
    "AlertChanged",
    "AlertCleared",
    "AlertEscalated",
    "AlertRaised",
    "CardRebuilt",
    "CaseAccepted",
    "CaseChanged",
    "CaseClosed",
    "CaseHandedOver",
    "CaseOpened",
    "CaseReopened",
    "CaseRulesChanged",
    "CaseTakenOver",
    "ContainerDiscarded",
    "ContainerRecorded",
    "EntryCorrected",
    "Event",
    "GoalSet",
    "InterventionChanged",
    "InterventionJudgedAnew",
    "InterventionRecorded",
    "MemberAdded",
    "MemberEnded",
    "NoteAdded",
    "OrderDecided",
    "OrderEnded",
    "OrderPlaced",
    "OrderReadBack",
    "OrderRequested",
    "OrdersSeen",
    "ProcedureRecorded",
    "ReassessmentMoved",
    "ReviewAdded",
    "RuleSetAdopted",
    "SignInLinkIssued",
    "SignInLinkUsed",
    "TokenIssued",
    "TokenRevoked",
    "UnitAdded",
    "VitalsRecorded",
]
