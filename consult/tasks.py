"""The regular work: each task reads the clock once and calls one action."""

from celery import shared_task

from consult import clock
from consult.actions import alerts, downtime, notifications
from consult.journal import seals, verify
from consult.models import Agency


@shared_task
def sweep() -> None:
    """Raise, clear and escalate what time alone has made due; each second."""
    alerts.sweep(clock.now())


@shared_task
def notify() -> None:
    """Tell outside of the board what has escalated; every two seconds."""
    notifications.deliver(clock.now())


@shared_task
def purge_notifications() -> None:
    """Delete what was told more than a month ago; each hour."""
    notifications.purge(clock.now())


@shared_task
def write_downtime_sheets() -> None:
    """Write the sheets of all open cases, for when the board cannot be reached; every quarter of an hour."""
    downtime.write(clock.now())


@shared_task
def seal() -> None:
    """Append the signed heads of the journals that moved to the seals file; each minute."""
    seals.seal(clock.now())


# Acknowledged when it starts: a task that outlasts the broker's visibility timeout would else be handed out again.
@shared_task(acks_late=False, time_limit=3600, soft_time_limit=3500)
def verify_journal() -> None:
    """Read every agency's journal through; each hour."""
    sealed = seals.read()
    for agency in Agency.objects.values_list("pk", flat=True):
        verify.run(agency, clock.now(), sealed)
