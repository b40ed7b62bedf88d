"""Alerts from raised to cleared: the open ones."""

from __future__ import annotations

from msgspec.structs import replace

from consult import events
from consult.case.fold.entry import Entry
from consult.case.fold.lists import put, without
from consult.state.case import CaseState
from consult.state.parts import Acknowledged, Alert

HIGH = "high"


def raised(state: CaseState, event: events.AlertRaised, entry: Entry) -> CaseState:
    """Something needs a person."""
    alert = Alert(
        id=event.alert,
        case=state.id,
        kind=event.alert_kind,
        cause=event.cause,
        priority=event.priority,
        text=event.text,
        raised_at=entry.received_at,
    )
    return replace(state, alerts=(*state.alerts, alert))


def changed(state: CaseState, event: events.AlertChanged, entry: Entry) -> CaseState:
    """An open alert says something else; one of high priority wants a person again."""
    moved = replace(_open(state, event.alert), priority=event.priority, text=event.text)
    if event.priority == HIGH and event.again:
        anew = entry.received_at
        moved = replace(moved, acknowledged=None, escalated_at=None, escalated_to=None, raised_at=anew)
    return replace(state, alerts=put(state.alerts, moved))


def acknowledged(state: CaseState, event: events.AlertAcknowledged, entry: Entry) -> CaseState:
    """Somebody has taken notice."""
    taken = Acknowledged(entry.by.name if entry.by else "", entry.received_at)
    return replace(state, alerts=put(state.alerts, replace(_open(state, event.alert), acknowledged=taken)))


def escalated(state: CaseState, event: events.AlertEscalated, entry: Entry) -> CaseState:
    """Nobody has acknowledged in time."""
    passed_on = replace(_open(state, event.alert), escalated_at=entry.received_at, escalated_to=event.to)
    return replace(state, alerts=put(state.alerts, passed_on))


def cleared(state: CaseState, event: events.AlertCleared, entry: Entry) -> CaseState:
    """Its cause is gone."""
    return replace(state, alerts=without(state.alerts, event.alert))


def _open(state: CaseState, alert_id: str) -> Alert:
    return next(each for each in state.alerts if each.id == alert_id)
