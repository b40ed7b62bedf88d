"""The regular work: each task reads the clock once and calls one action."""

from celery import shared_task

from consult import clock
from consult.actions import alerts
from consult.journal import seals


@shared_task
def sweep() -> None:
    """Raise, clear and escalate what time alone has made due; each second."""
    alerts.sweep(clock.now())


@shared_task
def seal() -> None:
    """Append the signed heads of the journals that moved to the seals file; each minute."""
    seals.seal(clock.now())
