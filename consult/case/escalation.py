"""When an alert that nobody acknowledges goes to others, and to whom."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Protocol
from uuid import UUID

from msgspec import Struct

# Unacknowledged for so long an alert goes to others (contract, "Alerts"; common practice, no source).
ESCALATE_AFTER = {"high": timedelta(seconds=60), "medium": timedelta(seconds=120)}
STEPS = ("physicians", "supervisor")
ATTENDED = timedelta(minutes=2)  # so long a physician's look at the case holds its escalations (contract, "Alerts")


class EscalationTold(Struct, frozen=True, kw_only=True):
    """What is told outside of the board, and nothing of the patient: which alert of which unit, since when, to whom."""

    agency: str
    timezone: str
    unit: str
    alert: str
    priority: str
    since: datetime
    escalated_at: datetime
    escalated_to: str
    case: UUID


class Escalating(Protocol):
    """What of an alert says when it goes to others."""

    @property
    def priority(self) -> str:
        """How urgent it is."""

    @property
    def raised_at(self) -> datetime:
        """When it was raised, or wanted a person again."""

    @property
    def acknowledged(self) -> object:
        """Who has taken notice, if anybody has."""

    @property
    def escalated_at(self) -> datetime | None:
        """When it went to others."""

    @property
    def escalated_to(self) -> str | None:
        """To whom it went."""


def escalates_at(alert: Escalating, attended_at: datetime | None = None) -> datetime | None:
    """When an open alert goes a step further unless a physician looks; None where somebody has taken notice."""
    after = ESCALATE_AFTER.get(alert.priority)
    if after is None or alert.acknowledged or alert.escalated_to == STEPS[-1]:
        return None
    at = (alert.escalated_at or alert.raised_at) + after
    return max(at, attended_at + ATTENDED) if attended_at else at


def next_step(alert: Escalating) -> str:
    """To whom an alert escalates next."""
    return STEPS[1] if alert.escalated_to else STEPS[0]
