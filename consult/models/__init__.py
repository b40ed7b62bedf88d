"""All tables, one file a subject: people, case, control, container, order, question, alert, journal, rules."""

from consult.models.alert import Alert, Reassessment
from consult.models.case import (
    Case,
    Correction,
    Intervention,
    Note,
    PhaseChange,
    Procedure,
    Review,
    TookPart,
    Vitals,
)
from consult.models.container import Container
from consult.models.control import ControlOffer
from consult.models.journal import AccessRecord, Heartbeat, JournalCheck, JournalEntry, LastLook, Sealing
from consult.models.notification import Destination, Notification
from consult.models.order import Order
from consult.models.people import Agency, DeviceToken, Membership, SignInLink, Unit, User
from consult.models.question import Instruction, Question
from consult.models.rules import RuleSetDraft, RuleSetRecord
from consult.models.sign_in import WrongPasswords

__all__ = [
    "AccessRecord",
    "Agency",
    "Alert",
    "Case",
    "Container",
    "ControlOffer",
    "Correction",
    "Destination",
    "DeviceToken",
    "Heartbeat",
    "Instruction",
    "Intervention",
    "JournalCheck",
    "JournalEntry",
    "LastLook",
    "Membership",
    "Note",
    "Notification",
    "Order",
    "PhaseChange",
    "Procedure",
    "Question",
    "Reassessment",
    "Review",
    "RuleSetDraft",
    "RuleSetRecord",
    "Sealing",
    "SignInLink",
    "TookPart",
    "Unit",
    "User",
    "Vitals",
    "WrongPasswords",
]
