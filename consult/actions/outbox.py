"""What is to be told outside of the board: written in the transaction that makes it true, so that no kill loses it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

import msgspec

from consult import events
from consult.case.escalation import EscalationTold
from consult.events import Event
from consult.models import Case, Destination, Notification
from consult.state.case import CaseState
from consult.state.parts import Alert


def escalated(case: Case, happened: Iterable[Event], state: CaseState, now: datetime) -> None:
    """Keep a notification of each alert that has just escalated for each destination of the agency."""
    moved = {event.alert for event in happened if isinstance(event, events.AlertEscalated)}
    if not moved:
        return
    places = list(Destination.objects.filter(agency_id=case.agency_id, ended_at=None))
    told = [_told(case, state, alert) for alert in state.alerts if alert.id in moved and places]
    Notification.objects.bulk_create(
        Notification(destination=place, facts=facts, made_at=now, next_try_at=now) for facts in told for place in places
    )


def _told(case: Case, state: CaseState, alert: Alert) -> object:
    told = EscalationTold(
        agency=case.agency.name,
        timezone=case.agency.timezone,
        unit=state.unit.call_sign,
        alert=alert.kind,
        priority=alert.priority,
        since=alert.raised_at,
        escalated_at=alert.escalated_at or alert.raised_at,
        escalated_to=alert.escalated_to or "",
        case=UUID(state.id),
    )
    return msgspec.to_builtins(told)
