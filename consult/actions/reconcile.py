"""The alert rule's answer against the open alerts: raise, move, clear, escalate; one open alert per cause."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from consult import events
from consult.card.build import Card, alerts_shown
from consult.card.facts import Kept, replace
from consult.clock import stamp
from consult.journal.append import Line
from consult.models import Alert, Case, Order
from consult.render.order_story import became
from consult.resources import alert_dict, escalates_at, next_step, order_dict
from dosing.watch import Cause

# Happenings end when somebody has taken notice, or when what caused them is corrected; states end with their cause.
HAPPENINGS = ("dose_outside_limits", "order_not_given", "clock_offset")
# What an order waits for ends with what became of the order, told as such: an order that has run out is no good news.
ABOUT_ORDERS = ("order_waiting", "readback_waiting", "readback_mismatch")
# What these say moves with what is done: their open alert is told anew, and one of high priority wants a person again.
TOLD_ANEW = ("pressor_running_out", "dose_outside_limits", "vital_sign")
ATTENDED = timedelta(minutes=2)  # so long a physician's look at the case holds its escalations (contract, "Alerts")


def earliest(*times: datetime | None) -> datetime | None:
    """The first of these times, None where there is none."""
    return min((time for time in times if time), default=None)


def reconcile(case: Case, kept: Kept, causes: Iterable[Cause], now: datetime, card: Card) -> list[Line]:
    """Raise what stands and is not open, move priorities, clear what no longer stands."""
    standing = {(cause.kind, cause.cause): cause for cause in causes}
    open_now = {(each["kind"], each["cause"]): each for each in kept["alerts"]}
    lines = [
        _clear(kept, each, _because(case, each), now, card)
        for key, each in open_now.items()
        if key not in standing and each["kind"] not in HAPPENINGS
    ]
    return lines + tell(case, kept, standing.values(), now, card)


def _because(case: Case, alert: Card) -> str:
    """Why an alert clears: what became of its order where it is about one, else that its cause or the case is over."""
    if alert["kind"] in ABOUT_ORDERS:
        return became(order_dict(Order.objects.select_related("case").get(case=case, uid=alert["cause"])))[:200]
    return "the cause is gone" if case.state == Case.State.OPEN else "the case has ended"


def _differs(alert: Card, cause: Cause) -> bool:
    """Whether an open alert must be told anew: its priority has moved, or what it says has."""
    return alert["priority"] != cause.priority or (cause.kind in TOLD_ANEW and alert["text"] != cause.text)


def tell(case: Case, kept: Kept, causes: Iterable[Cause], now: datetime, card: Card) -> list[Line]:
    """Open an alert for each cause that has none, and tell anew the open one of a cause that says something else."""
    lines = []
    open_now = {(each["kind"], each["cause"]): each for each in kept["alerts"]}
    for cause in causes:
        known = open_now.get((cause.kind, cause.cause))
        if known is None:
            lines.append(raise_alert(case, kept, cause, now, card))
        elif _differs(known, cause):
            lines.append(_move(kept, known, cause, now, card))
    return lines


def raise_alert(case: Case, kept: Kept, cause: Cause, now: datetime, card: Card) -> Line:
    """Open an alert for a cause that has none."""
    alert = Alert(
        case=case,
        kind=cause.kind,
        cause=cause.cause,
        priority=cause.priority,
        text=cause.text,
        raised_at=now,
    )
    alert.save(force_insert=True)
    event = events.AlertRaised(
        alert=alert.uid, alert_kind=alert.kind, cause=alert.cause, priority=alert.priority, text=alert.text
    )
    return _line(kept, card, [*kept["alerts"], alert_dict(alert)], event, min(cause.since or now, now))


def _line(kept: Kept, card: Card, alerts: list[Card], event: events.Event, at: datetime) -> Line:
    kept["alerts"], card["alerts"] = alerts, alerts_shown(alerts)
    return Line(event, at, {"alerts": card["alerts"]})


def _with(kept: Kept, alert: Card) -> list[Card]:
    alerts = list(kept["alerts"])
    replace(alerts, alert)
    return alerts


def _move(kept: Kept, alert: Card, cause: Cause, now: datetime, card: Card) -> Line:
    """Move an open alert's priority; one that got worse wants a person again."""
    worse = cause.priority == Alert.Priority.HIGH
    moved = {**alert, "priority": cause.priority, "text": cause.text}
    fields: dict[str, Any] = {"priority": cause.priority, "text": cause.text}
    if worse:
        moved |= {"acknowledged": None, "escalated_at": None, "escalated_to": None, "raised_at": stamp(now)}
        fields |= {
            "acknowledged_at": None,
            "acknowledged_by": None,
            "escalated_at": None,
            "escalated_to": "",
            "raised_at": now,
        }
    Alert.objects.filter(uid=alert["id"]).update(**fields)
    event = events.AlertChanged(alert=alert["id"], alert_kind=alert["kind"], priority=cause.priority, text=cause.text)
    return _line(kept, card, _with(kept, moved), event, now)


def _clear(kept: Kept, alert: Card, because: str, now: datetime, card: Card) -> Line:
    Alert.objects.filter(uid=alert["id"], cleared_at=None).update(cleared_at=now, cleared_because=because)
    left = [each for each in kept["alerts"] if each["id"] != alert["id"]]
    event = events.AlertCleared(alert=alert["id"], alert_kind=alert["kind"], because=because)
    return _line(kept, card, left, event, now)


def clear_cause(kept: Kept, kind: str, cause: str, because: str, now: datetime, card: Card) -> list[Line]:
    """Clear the open alert of one cause, if there is one."""
    found = [each for each in kept["alerts"] if (each["kind"], each["cause"]) == (kind, cause)]
    return [_clear(kept, each, because, now, card) for each in found]


def _escalates_at(case: Case, alert: Card) -> datetime | None:
    """When an open alert goes a step further; None once it cannot, or once somebody has taken notice."""
    at = escalates_at(alert)
    return at and (max(at, case.attended_at + ATTENDED) if case.attended_at else at)


def next_escalation(case: Case, kept: Kept) -> datetime | None:
    """The next time at which an open alert escalates."""
    return earliest(*(_escalates_at(case, alert) for alert in kept["alerts"]))


def escalate(case: Case, kept: Kept, now: datetime, card: Card) -> list[Line]:
    """Pass on the alerts that nobody has acknowledged in time: to the other physicians, then to the supervisor."""
    due = [alert for alert in kept["alerts"] if (at := _escalates_at(case, alert)) and at <= now]
    return [_escalate(kept, alert, now, card) for alert in due]


def _escalate(kept: Kept, alert: Card, now: datetime, card: Card) -> Line:
    step = next_step(alert)
    Alert.objects.filter(uid=alert["id"]).update(escalated_at=now, escalated_to=step)
    moved = {**alert, "escalated_at": stamp(now), "escalated_to": step}
    event = events.AlertEscalated(alert=alert["id"], alert_kind=alert["kind"], to=step)
    return _line(kept, card, _with(kept, moved), event, now)
