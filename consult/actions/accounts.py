"""Who may act: agencies, units, members and their tokens; and that a unit was heard of."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from consult import access
from consult.actions import rule_sets
from consult.models import Agency, Case, DeviceToken, Membership, Unit, User

TOKEN_LIFE = timedelta(days=180)
CONTACT_EVERY = timedelta(seconds=15)
SILENCE = timedelta(minutes=1)  # below any rule set's time until a unit has lost contact
DEMONSTRATION = "demonstration"
_noted: dict[UUID, datetime] = {}


def make_agency(name: str, rules: str = DEMONSTRATION) -> Agency:
    """The agency of this name, made with a shipped rule set if it is not there yet."""
    agency = Agency.objects.filter(name=name).first()
    return agency or Agency.objects.create(name=name, rule_set=rule_sets.shipped(rules))


def make_unit(agency: Agency, call_sign: str, call: str = "") -> Unit:
    """The agency's unit with this call sign, made, with how it is reached, if it is not there yet."""
    return Unit.objects.get_or_create(agency=agency, call_sign=call_sign, defaults={"call": call})[0]


def make_person(username: str, first_name: str, last_name: str, password: str) -> User:
    """The person with this user name; the password is set anew only where it is another."""
    named = {"first_name": first_name, "last_name": last_name}
    user, new = User.objects.get_or_create(username=username, defaults=named)
    # Of a new person there is nothing to check, and a check is as slow as setting it.
    if new or not user.check_password(password):
        user.set_password(password)
        user.save(update_fields=["password"])
    return user


def make_member(
    agency: Agency, role: str, *, user: User | None = None, unit: Unit | None = None, name: str = ""
) -> Membership:
    """What a person, or a device without one, is in an agency."""
    named = name or (user.display_name if user else "")
    known = {"agency": agency, "role": role, "user": user, "unit": unit, "name": named, "ended_at": None}
    return Membership.objects.get_or_create(**known, defaults={"rules_seen_id": rules_in_force(agency)})[0]


def rules_in_force(agency: Agency) -> UUID | None:
    """The rule set under which somebody joins: what it changed before is no news to them."""
    return Agency.objects.values_list("rule_set_id", flat=True).get(pk=agency.pk)


def issue_token(membership: Membership, now: datetime) -> str:
    """A further token for a member: shown this once, kept as its digest."""
    text = secrets.token_hex(32)
    DeviceToken.objects.create(
        membership=membership, digest=access.token_digest(text), created_at=now, expires_at=now + TOKEN_LIFE
    )
    return text


def revoke_token(token: DeviceToken, now: datetime) -> None:
    """End a token; it stops working within a second."""
    token.revoked_at = now
    token.save(update_fields=["revoked_at"])
    access.forget_tokens()


def end_membership(membership: Membership, now: datetime) -> None:
    """End what somebody is in an agency, and with it their tokens and open boards."""
    membership.ended_at = now
    membership.save(update_fields=["ended_at"])
    access.forget_tokens()


def note_contact(unit: UUID, now: datetime) -> None:
    """A unit was heard of: its open cases say so. Written at most every 15 s for each unit; makes no journal entry."""
    noted = _noted.get(unit)
    if noted and timedelta(0) <= now - noted < CONTACT_EVERY:
        return
    with transaction.atomic():
        heard = Case.objects.filter(unit_id=unit, state=Case.State.OPEN, last_contact_at__lt=now)
        heard.filter(last_contact_at__lt=now - SILENCE).update(wake_at=now)  # an alert may end: the sweep looks
        heard.update(last_contact_at=now)
    _noted[unit] = now  # once it is written: what an outage took is told by the next request


def forget_contacts() -> None:
    """Drop what is kept of contacts, so that the next one is written."""
    _noted.clear()
