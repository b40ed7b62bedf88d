"""Telling people outside of the board: where an agency wants to be told, and what waits for it is sent.

Each try is written down before it is made, with the time of the next one: so a process that is killed costs one
waiting time, two that send at once never send the same, and what was sent just before a kill comes again, under its id.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from datetime import datetime, timedelta
from urllib.parse import urlsplit

import msgspec
from django.db import transaction

from consult import events, kept_secret, notifiers
from consult.actions import people, rule_sets
from consult.case.escalation import EscalationTold
from consult.models import Agency, Destination, Notification
from consult.notifiers import Message
from consult.problems import NotFound, WrongState

MOST_DESTINATIONS = 10
MOST_AT_ONCE = 20
FIRST_WAIT, LONGEST_WAIT = timedelta(seconds=15), timedelta(minutes=10)
MOST_TRIES = 10  # over some 50 min: what is known later helps nobody; our choice
KEPT = timedelta(days=30)


def add(agency: Agency, how: str, address: str, now: datetime, *, operator: str) -> tuple[Destination, str]:
    """Tell this address from now on; with it the secret that signs its posts, shown this once. Raises ``Invalid``."""
    webhook = how == Destination.How.WEBHOOK
    wanted = notifiers.webhook_address(address) if webhook else notifiers.email_address(address)
    secret = secrets.token_urlsafe(32) if webhook else ""
    with transaction.atomic():
        held = rule_sets.held(agency.pk)
        known = list(Destination.objects.filter(agency=held, ended_at=None))
        if wanted in [each.address for each in known]:
            raise WrongState(f"{held.name} is already notified at {wanted}.")
        if len(known) >= MOST_DESTINATIONS:
            raise WrongState(
                f"{held.name} is already notified at {MOST_DESTINATIONS} addresses, the most there can be."
            )
        kept = kept_secret.hidden(secret) if secret else ""
        made = Destination.objects.create(agency=held, how=how, address=wanted, secret=kept)
        line = events.DestinationAdded(destination=made.pk, how=how, address=_written(made), operator=operator)
        people.note(held, line, now)
    return made, secret


def end(agency: Agency, address: str, now: datetime, *, operator: str) -> Destination:
    """Tell this address nothing any more, nor what waits for it; raises ``NotFound``."""
    with transaction.atomic():
        held = rule_sets.held(agency.pk)
        found = Destination.objects.filter(agency=held, address=address.strip(), ended_at=None).first()
        if found is None:
            raise NotFound(f"{held.name} is not notified at {address.strip()!r}.")
        Notification.objects.filter(destination=found).update(next_try_at=None)
        found.ended_at, found.secret, found.failing_since = now, "", None
        found.save()
        line = events.DestinationEnded(destination=found.pk, how=found.how, address=_written(found), operator=operator)
        people.note(held, line, now)
    return found


def _written(place: Destination) -> str:
    """The address as the journal has it: what stands behind a program's host may be as good as a password."""
    return place.address if place.how == Destination.How.EMAIL else urlsplit(place.address).netloc


def deliver(now: datetime) -> int:
    """Send what is due and note how each fared; the number of those sent."""
    if not Notification.objects.filter(next_try_at__lte=now).exists():
        return 0
    due = _tried(now)
    failures = notifiers.send([_message(each) for each in due], now)
    with transaction.atomic():
        for notification, failure in zip(due, failures, strict=True):
            _note(notification, failure, now)
    return failures.count("")


def _tried(now: datetime) -> Sequence[Notification]:
    """What is due, with the try that is made now written down, and when the next would be."""
    with transaction.atomic():
        rows = Notification.objects.select_for_update(skip_locked=True, of=("self",))
        due = list(
            rows.filter(next_try_at__lte=now).select_related("destination").order_by("next_try_at")[:MOST_AT_ONCE]
        )
        for each in due:
            wait = min(FIRST_WAIT * 2**each.tries, LONGEST_WAIT)
            each.tries += 1
            each.next_try_at = now + wait
        Notification.objects.bulk_update(due, ["tries", "next_try_at"])
    return due


def _message(notification: Notification) -> Message:
    place = notification.destination
    facts = msgspec.convert(notification.facts, EscalationTold)
    return Message(id=notification.pk, how=place.how, address=place.address, secret=place.secret, facts=facts)


def _note(notification: Notification, failure: str, now: datetime) -> None:
    """How one try fared; its destination fails from the first of its failures on, until something is sent."""
    place = Destination.objects.filter(pk=notification.destination_id)
    if not failure:
        Notification.objects.filter(pk=notification.pk).update(sent_at=now, next_try_at=None)
        place.update(failing_since=None, failure="")
        return
    place.filter(failing_since=None, ended_at=None).update(failing_since=now)
    place.update(failure=failure[:120])
    if notification.tries >= MOST_TRIES:
        Notification.objects.filter(pk=notification.pk).update(next_try_at=None)


def purge(now: datetime) -> int:
    """Delete what was sent or given up more than a month ago; the number of rows."""
    deleted, _ = Notification.objects.filter(next_try_at=None, made_at__lt=now - KEPT).delete()
    return deleted
