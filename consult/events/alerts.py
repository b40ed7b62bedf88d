"""Alerts from raised to cleared."""

from __future__ import annotations

from dataclasses import dataclass

from consult.events.base import Event, Id


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertRaised(Event):
    """Something needs a person."""

    kind = "alert.raised"
    alert: Id
    alert_kind: str
    cause: str
    priority: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertChanged(Event):
    """The cause of an open alert has got worse or better: its priority moved."""

    kind = "alert.changed"
    alert: Id
    alert_kind: str
    priority: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertAcknowledged(Event):
    """Somebody has taken notice of an alert, by name."""

    kind = "alert.acknowledged"
    alert: Id
    alert_kind: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertEscalated(Event):
    """Nobody acknowledged in time: the alert goes to the others."""

    kind = "alert.escalated"
    alert: Id
    alert_kind: str
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertCleared(Event):
    """The cause of an alert is gone, and why."""

    kind = "alert.cleared"
    alert: Id
    alert_kind: str
    because: str
