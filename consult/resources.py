"""Rows as the API answers them and as cards carry them: plain JSON values."""

from __future__ import annotations

from consult.clock import stamp
from consult.models import (
    Alert,
    Case,
    Container,
    Correction,
    Intervention,
    Membership,
    Note,
    Order,
    Procedure,
    Reassessment,
    Review,
    Vitals,
)
from consult.models.fields import Entry

Resource = dict[str, object]


def name_of(membership: Membership) -> str:
    """The name of a person or device as screens write it."""
    return membership.user.display_name if membership.user else membership.name


def _entry(row: Entry) -> Resource:
    """What every answer has; its times are those that were sent, `clock_offset_s` puts them right."""
    return {
        "id": str(row.uid),
        "case": str(row.case.uid),
        "received_at": stamp(row.received_at),
        "clock_offset_s": row.clock_offset_s,
    }


def vitals_dict(row: Vitals) -> Resource:
    """A set of vitals: what was sent, with what was derived from it then."""
    return {**row.data, **_entry(row), "derived": row.derived, "unlikely": row.unlikely, "in_error": row.in_error}


def intervention_dict(row: Intervention) -> Resource:
    """An intervention: what was sent, how it stands, the check made of it and the reassessment that it opened."""
    return {
        **row.data,
        "check": row.rate_check or row.verdict,
        **({"amount": row.rate} if row.rate else {}),
        **({"infused": row.infused} if row.infused else {}),
        **_entry(row),
        "status": row.status,
        "reassessment": row.reassessment,
        "in_error": row.in_error,
    }


def intervention_now(row: Intervention) -> Resource:
    """An intervention with its reassessment as that stands now."""
    asked = next(iter(row.reassessments.all()), None)
    return {**intervention_dict(row), "reassessment": reassessment_dict(asked, str(row.uid)) if asked else None}


def container_dict(row: Container) -> Resource:
    """A syringe, bag or cylinder: what was sent, and whether it is in hand still."""
    return {
        **row.data,
        **_entry(row),
        "at": row.data.get("at") or stamp(row.at),
        "form": str(row.form),
        "treatment": row.treatment or None,
        "discarded_at": stamp(row.discarded_at) if row.discarded_at else None,
        "discarded_because": row.discarded_because or None,
        "in_error": row.in_error,
    }


def reassessment_dict(row: Reassessment, intervention: str) -> Resource:
    """The reading that an intervention asks for, and how that stands."""
    return {
        "id": str(row.uid),
        "intervention": intervention,
        "because": row.because,
        "counts_from": stamp(row.counts_from),
        "needs": row.needs,
        "due_at": stamp(row.due_at),
        "overdue_at": stamp(row.overdue_at),
        "done_at": stamp(row.done_at) if row.done_at else None,
        "state": str(row.state),
    }


def alert_dict(alert: Alert) -> Resource:
    """An alert; its state follows from the times."""
    acknowledged = None
    if alert.acknowledged_at and alert.acknowledged_by:
        acknowledged = {"by": name_of(alert.acknowledged_by), "at": stamp(alert.acknowledged_at)}
    return {
        "id": str(alert.uid),
        "case": str(alert.case.uid),
        "kind": alert.kind,
        "cause": alert.cause,
        "priority": str(alert.priority),
        "text": alert.text,
        "raised_at": stamp(alert.raised_at),
        "acknowledged": acknowledged,
        "escalated_at": stamp(alert.escalated_at) if alert.escalated_at else None,
        "escalated_to": alert.escalated_to or None,
        "cleared_at": stamp(alert.cleared_at) if alert.cleared_at else None,
        "cleared_because": alert.cleared_because or None,
    }


def order_dict(row: Order) -> Resource:
    """An order or request: its content now, its state, the times of each step."""
    return {
        **row.data,
        "id": str(row.uid),
        "case": str(row.case.uid),
        "state": str(row.state),
        "steps": row.steps,
    }


def order_answer(row: Order) -> Resource:
    """An order as the API answers it: as the card shows it, with the time as it was sent."""
    return {**order_dict(row), "at": stamp(row.at_as_sent), "clock_offset_s": row.clock_offset_s}


def case_row(row: Case) -> Resource:
    """A case as lists show it."""
    return {
        "id": str(row.uid),
        "unit": {"id": str(row.unit_id), "call_sign": row.unit.call_sign},
        "state": str(row.state),
        "opened_at": stamp(row.opened_at),
        "seq": row.seq,
    }


def procedure_dict(row: Procedure) -> Resource:
    """A procedure as it was sent."""
    return {**row.data, **_entry(row), "in_error": row.in_error}


def note_dict(row: Note) -> Resource:
    """A note as it was sent."""
    return {**_entry(row), "at": stamp(row.at_as_sent), "text": row.text, "in_error": row.in_error}


def review_dict(row: Review) -> Resource:
    """A supervisor's finding."""
    return {**_entry(row), "text": row.text, "outcome": row.outcome, "by": name_of(row.by)}


def correction_dict(row: Correction) -> Resource:
    """A correction: which entry was marked, and why."""
    return {**_entry(row), "target": {"kind": row.target_kind, "id": str(row.target)}, "reason": row.reason}
