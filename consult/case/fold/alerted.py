"""Alerts from raised to cleared: the open ones."""

from __future__ import annotations

from msgspec.structs import replace

from consult import events
from consult.case.escalation import STEPS
from consult.case.fold.entry import Entry
from consult.case.fold.lists import put, without
from consult.state.case import CaseState
from consult.state.parts import Acknowledged, Alert
from dosing.ground.kinds import HAPPENINGS

MOST_ALERTS = 60  # as many as a card shows


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
    moved = replace(event.back or _open(state, event.alert), priority=event.priority, text=event.text)
    if event.wants_anew:
        anew = entry.received_at
        moved = replace(moved, acknowledged=None, escalated_at=None, escalated_to=None, raised_at=anew)
    counted = state.more_alerts - (event.back is not None)
    return replace(state, alerts=put(state.alerts, moved), more_alerts=counted)


def acknowledged(state: CaseState, event: events.AlertAcknowledged, entry: Entry) -> CaseState:
    """Somebody has taken notice."""
    taken = Acknowledged(entry.by.name if entry.by else "", entry.received_at)
    if not any(each.id == event.alert for each in state.alerts):
        return state  # one that is only counted ends with it
    return replace(state, alerts=put(state.alerts, replace(_open(state, event.alert), acknowledged=taken)))


def escalated(state: CaseState, event: events.AlertEscalated, entry: Entry) -> CaseState:
    """Nobody has acknowledged in time."""
    passed_on = replace(_open(state, event.alert), escalated_at=entry.received_at, escalated_to=event.to)
    return _newest(replace(state, alerts=put(state.alerts, passed_on)))


def _newest(state: CaseState) -> CaseState:
    """The state with the newest alerts one by one; a happening before them that has reached the last is counted.

    Time alone changes nothing of it any more: it stays open in its row until somebody takes notice.
    """
    last = [each.id for each in state.alerts if each.kind in HAPPENINGS and each.escalated_to == STEPS[-1]]
    leave = set(last[:-MOST_ALERTS])
    stay = tuple(each for each in state.alerts if each.id not in leave)
    return replace(state, alerts=stay, more_alerts=state.more_alerts + len(leave))


def cleared(state: CaseState, event: events.AlertCleared, entry: Entry) -> CaseState:
    """Its cause is gone; one that was only counted takes its place."""
    back = (event.back,) if event.back else ()
    stay = without(state.alerts, event.alert)
    counted = state.more_alerts - len(back) - (len(stay) == len(state.alerts))
    return replace(state, alerts=(*back, *stay), more_alerts=counted)


def _open(state: CaseState, alert_id: str) -> Alert:
    return next(each for each in state.alerts if each.id == alert_id)
