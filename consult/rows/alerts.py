"""The rows of alerts, from raised to cleared."""

from __future__ import annotations

from uuid import UUID

from consult import events
from consult.models import Alert
from consult.rows.rows import Columns, Happened, Rows


def alert_raised(rows: Rows, event: events.AlertRaised, happened: Happened) -> None:
    """The row of an alert that was raised."""
    columns = {
        "kind": event.alert_kind,
        "cause": event.cause,
        "priority": event.priority,
        "text": event.text,
        "raised_at": happened.entry.received_at,
    }
    rows.make(Alert, event.alert, columns)


def alert_changed(rows: Rows, event: events.AlertChanged, happened: Happened) -> None:
    """The row of an alert that was changed."""
    columns: Columns = {"priority": event.priority, "text": event.text}
    if event.wants_anew:
        anew = {"acknowledged_at": None, "acknowledged_by_id": None, "escalated_at": None, "escalated_to": ""}
        columns |= {**anew, "raised_at": happened.entry.received_at}
    rows.change(Alert, event.alert, columns)


def alert_acknowledged(rows: Rows, event: events.AlertAcknowledged, happened: Happened) -> None:
    """The row of an alert that was acknowledged."""
    by = happened.entry.by
    taken = {"acknowledged_at": happened.entry.received_at, "acknowledged_by_id": UUID(by.id) if by else None}
    rows.change(Alert, event.alert, taken)


def alert_escalated(rows: Rows, event: events.AlertEscalated, happened: Happened) -> None:
    """The row of an alert that was escalated."""
    rows.change(Alert, event.alert, {"escalated_at": happened.entry.received_at, "escalated_to": event.to})


def alert_cleared(rows: Rows, event: events.AlertCleared, happened: Happened) -> None:
    """The row of an alert that was cleared."""
    rows.change(Alert, event.alert, {"cleared_at": happened.entry.received_at, "cleared_because": event.because})
