"""Alerts as people meet them: acknowledged by name; and the sweep that lets time do its work."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta
from uuid import UUID

from django.db import InterfaceError, OperationalError, transaction

from consult import access, problems
from consult.access import Actor
from consult.actions.carry_out import let_time_work
from consult.actions.entry import Data, Kind, Written, write
from consult.case.decide import words
from consult.case.decide.asked import Asked, Decided, Known, open_alert
from consult.case.entries import NoticeEntry
from consult.models import Alert, Case, Heartbeat
from consult.resources.alerts import written_alert
from dosing.ground.language import gettext as _

log = logging.getLogger(__name__)
SWEEP = "sweep"
MOST_AT_ONCE = 500
AFTER_A_FAULT = timedelta(seconds=30)  # one case that cannot be settled must not stop the others
AFTER_AN_OUTAGE = timedelta(seconds=1)  # the case itself is well: its alerts are as due as before


def acknowledge(actor: Actor, alert: UUID, data: Data, now: datetime) -> Written:
    """Take notice of an alert, by name; it stays open until its cause is gone. Done once, again changes nothing."""
    row = access.alert_for(actor, alert)

    def decide(known: Known, asked: Asked[NoticeEntry]) -> Decided:
        opened = open_alert(known.state, known.past, row.kind, row.cause)
        if opened and opened.id == str(alert):
            return words.acknowledge(known, asked, opened)
        if Alert.objects.filter(pk=row.pk, acknowledged_at=None).exists():
            raise problems.WrongState(_("The cause of this alert has already cleared."))
        return Decided()

    return write(actor, row.case.uid, NOTICE, data, now, NoticeEntry, decide, about=alert)


NOTICE = Kind("acknowledge", Alert, written_alert, gate=access.require_watcher)


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
            let_time_work(case, now)
            return True
    except Exception as fault:
        log.exception("case %s could not be settled", pk)
        pause = AFTER_AN_OUTAGE if isinstance(fault, OperationalError | InterfaceError) else AFTER_A_FAULT
        Case.objects.filter(pk=pk, wake_at__lte=now).update(wake_at=now + pause)
        return False
