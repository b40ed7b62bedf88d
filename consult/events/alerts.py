"""Alerts from raised to cleared."""

from __future__ import annotations

from consult.events.base import Event, Id
from consult.state.parts import Alert
from dosing.ground.kinds import OVERDUE


class AlertRaised(Event, frozen=True, kw_only=True):
    """Something needs a person."""

    kind = "alert.raised"
    alert: Id
    alert_kind: str
    cause: str
    priority: str
    text: str


class AlertChanged(Event, frozen=True, kw_only=True):
    """An open alert says something else: its priority moved, or what it tells did.

    Of high priority it wants a person `again`, unless its words alone have changed; of any where it tells of one more
    reading that is overdue. `back` is the alert as it was, where the state only counted it.
    """

    kind = "alert.changed"
    alert: Id
    alert_kind: str
    priority: str
    text: str
    again: bool = True
    back: Alert | None = None

    @property
    def wants_anew(self) -> bool:
        """Whether whoever has taken notice must do so again."""
        return self.again and (self.priority == "high" or self.alert_kind == OVERDUE)


class AlertAcknowledged(Event, frozen=True, kw_only=True):
    """Somebody has taken notice of an alert, by name."""

    kind = "alert.acknowledged"
    alert: Id
    alert_kind: str
    note: str


class AlertEscalated(Event, frozen=True, kw_only=True):
    """Nobody acknowledged in time: the alert goes to the others."""

    kind = "alert.escalated"
    alert: Id
    alert_kind: str
    to: str


class AlertCleared(Event, frozen=True, kw_only=True):
    """The cause of an alert is gone, and why; `back` is the newest of those that were only counted, in its place."""

    kind = "alert.cleared"
    alert: Id
    alert_kind: str
    because: str
    back: Alert | None = None
