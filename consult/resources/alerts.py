"""Alerts."""

from __future__ import annotations

from msgspec.structs import asdict

from consult.models import Alert as Row
from consult.resources import name_of
from consult.resources.page import Page
from consult.state.parts import Acknowledged, Alert


class WrittenAlert(Alert, frozen=True, kw_only=True):
    """An alert after it was acknowledged; ``seq`` is the case's journal number then."""

    seq: int


class AlertPage(Page[Alert], frozen=True):
    """Alerts, newest first."""


def alert(row: Row) -> Alert:
    """An alert; its state follows from the times."""
    by, at = row.acknowledged_by, row.acknowledged_at
    return Alert(
        id=str(row.uid),
        case=str(row.case.uid),
        kind=row.kind,
        cause=row.cause,
        priority=str(row.priority),
        text=row.text,
        raised_at=row.raised_at,
        acknowledged=Acknowledged(name_of(by), at) if by and at else None,
        escalated_at=row.escalated_at,
        escalated_to=row.escalated_to or None,
        cleared_at=row.cleared_at,
        cleared_because=row.cleared_because or None,
    )


def written_alert(row: Row, seq: int) -> WrittenAlert:
    """The alert read again, since taking notice of a happening also clears it."""
    found = Row.objects.select_related("case", "acknowledged_by__user").get(pk=row.pk)
    return WrittenAlert(**asdict(alert(found)), seq=seq)
