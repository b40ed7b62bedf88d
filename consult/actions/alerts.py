"""Alerts as people meet them: acknowledged by name; and the sweep that lets time do its work."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from consult import access, events, problems
from consult.access import Actor
from consult.actions.entry import Data, Draft, Written, draft_for, finish, write
from consult.actions.reconcile import HAPPENINGS
from consult.clock import stamp
from consult.models import Alert, Case, Heartbeat
from consult.resources import alert_dict

log = logging.getLogger(__name__)
SWEEP = "sweep"
MOST_AT_ONCE = 500
AFTER_A_FAULT = timedelta(seconds=30)  # one case that cannot be settled must not stop the others


def acknowledge(actor: Actor, alert_uid: UUID, data: Data, now: datetime) -> Written:
    """Take notice of an alert, by name; it stays open until its cause is gone. Done once, again changes nothing."""
    alert = access.alert_for(actor, alert_uid)
    return write(
        actor,
        alert.case.uid,
        "acknowledge",
        data,
        now,
        act=lambda draft, values: _acknowledge(draft, values, alert.pk),
        model=Alert,
        show=_as_it_stands,
        gate=access.require_watcher,
        target=alert_uid,
    )


def _acknowledge(draft: Draft, data: Data, pk: int) -> Alert:
    alert = Alert.objects.get(pk=pk)
    if alert.acknowledged_at:
        return alert
    if alert.cleared_at:
        raise problems.WrongState("The cause of this alert is gone already.")
    Alert.objects.filter(pk=pk).update(acknowledged_at=draft.now, acknowledged_by=draft.sender.membership)
    taken = {"by": draft.sender.name, "at": stamp(draft.now)}
    draft.kept["alerts"] = [
        {**each, "acknowledged": taken} if each["id"] == str(alert.uid) else each for each in draft.kept["alerts"]
    ]
    if alert.kind in HAPPENINGS:
        draft.ended.append((alert.kind, alert.cause, f"acknowledged by {draft.sender.name}"))
    draft.event = events.AlertAcknowledged(alert=alert.uid, alert_kind=alert.kind, note=data.get("note") or "")
    return alert


def _as_it_stands(alert: Alert) -> Data:
    """The alert read again: taking notice of a happening also clears it."""
    return alert_dict(Alert.objects.select_related("case", "acknowledged_by__user").get(pk=alert.pk))


def sweep(now: datetime) -> int:
    """Settle every case whose time has come; the number of cases settled.

    Takes the most overdue first, each in its own transaction, and skips what another sweep holds. A case that fails is
    logged and put off, so that it stops no other. At the end the heartbeat is set.
    """
    due = Case.objects.filter(wake_at__lte=now).order_by("wake_at").values_list("pk", flat=True)[:MOST_AT_ONCE]
    settled = sum(_settle(pk, now) for pk in list(due))
    Heartbeat.objects.update_or_create(name=SWEEP, defaults={"at": now})
    return settled


def _settle(pk: int, now: datetime) -> bool:
    try:
        with transaction.atomic():
            locked = Case.objects.select_for_update(skip_locked=True, of=("self",))
            case = locked.filter(pk=pk, wake_at__lte=now).first()
            if case is None:
                return False
            finish(draft_for(case, None, now))
            return True
    except Exception:
        log.exception("case %s could not be settled", pk)
        Case.objects.filter(pk=pk, wake_at__lte=now).update(wake_at=now + AFTER_A_FAULT)
        return False
