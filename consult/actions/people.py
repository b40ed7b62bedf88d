"""An agency set up and kept: its units, members and devices. Each change has its line in the agency's own journal.

`operator` is the system account of whoever runs the command; it stands in the line where no member acted.
"""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.models import Session
from django.db import transaction

from consult import access, directory, events, names, queries
from consult.access import Actor
from consult.actions import accounts, rule_sets
from consult.actions.entry import author
from consult.events import Event
from consult.journal.append import Line, append
from consult.models import Agency, DeviceToken, Membership, Unit, User
from consult.problems import Invalid, NotFound, WrongState

NAME_MOST, CALL_SIGN_MOST, CALL_BACK_MOST, NOTIFY_MOST = 120, 40, 60, 120


def note(agency: Agency, event: Event, now: datetime, actor: Actor | None = None) -> None:
    """Append a line to the agency's own journal; the caller holds the agency locked (`rule_sets.held`)."""
    append(agency, [Line(event, now, {}, by=author(actor) if actor else None)], now)
    agency.save(update_fields=["seq", "head"])


def create_agency(
    name: str, zone: str, now: datetime, *, operator: str, call_back: str = "", notify: str = ""
) -> Agency:
    """A new agency, which starts with the demonstration rule set; raises ``Invalid`` and ``WrongState``."""
    wanted = names.tidy(name, "agency's name", NAME_MOST)
    told = {
        "timezone": names.time_zone(zone),
        "call_back": names.tidy(call_back, "call-back", CALL_BACK_MOST) if call_back else "",
        "notify": names.tidy(notify, "text about who is told", NOTIFY_MOST) if notify else "",
    }
    with transaction.atomic():
        known = next((each for each in Agency.objects.all() if names.folded(each.name) == names.folded(wanted)), None)
        if known:
            raise WrongState(f"There is an agency {known.name!r} already.")
        rules = rule_sets.shipped(accounts.DEMONSTRATION)
        made = Agency.objects.create(name=wanted, rule_set=rules, **told)
        label = queries.label_of(rules)
        note(made, events.AgencyCreated(name=wanted, **told, rule_set=label, operator=operator), now)
    return made


def add_unit(agency: Agency, call_sign: str, now: datetime, *, operator: str, call: str = "") -> Unit:
    """A further unit of the agency, reached by this number or channel.

    Raises ``Invalid`` and, for a call sign in use, ``WrongState``.
    """
    wanted = names.tidy(call_sign, "call sign", CALL_SIGN_MOST)
    reached = names.tidy(call, "number or channel", CALL_BACK_MOST) if call else ""
    with transaction.atomic():
        held = rule_sets.held(agency.pk)
        for unit in Unit.objects.filter(agency=held):
            if names.folded(unit.call_sign) == names.folded(wanted):
                raise WrongState(f"{held.name} has a unit {unit.call_sign!r} already.")
        made = Unit.objects.create(agency=held, call_sign=wanted, call=reached)
        note(held, events.UnitAdded(unit=made.pk, call_sign=wanted, call=reached, operator=operator), now)
    return made


def add_member(
    agency: Agency, username: str, role: str, now: datetime, *, operator: str, unit: Unit | None = None, name: str = ""
) -> Membership:
    """What a person is in the agency from now on; the account is made, without a password, if there is none yet."""
    _fits(role, unit)
    shown = names.tidy(name, "person's name", NAME_MOST) if name else ""
    with transaction.atomic():
        held = rule_sets.held(agency.pk)
        user = _person(username, shown)
        if Membership.objects.filter(agency=held, user=user, role=role, unit=unit, ended_at=None).exists():
            raise WrongState(f"{user.username!r} is {_place(role, unit)} in {held.name} already.")
        made = Membership.objects.create(
            agency=held, user=user, role=role, unit=unit, name=user.display_name, rules_seen=held.rule_set
        )
        line = events.MemberAdded(
            member=made.pk,
            username=user.username,
            name=user.display_name,
            role=role,
            unit=unit.call_sign if unit else None,
            operator=operator,
        )
        note(held, line, now)
    return made


def _fits(role: str, unit: Unit | None) -> None:
    if role not in Membership.Role.values:
        raise Invalid(f"There is no role {role!r}. The roles are {', '.join(Membership.Role.values)}.")
    if role == Membership.Role.CREW and unit is None:
        raise Invalid("A crew member needs a unit: name it by --unit.")
    if role != Membership.Role.CREW and unit is not None:
        raise Invalid(f"A {role} has no unit: leave --unit out.")


def _person(username: str, name: str) -> User:
    wanted = names.username(username)
    user = directory.person_named(wanted) or User.objects.create_user(wanted, first_name=name)
    if not user.is_active:
        raise WrongState(f"The account {user.username!r} is deactivated.")
    return user


def _place(role: str, unit: Unit | None) -> str:
    return f"crew of {unit.call_sign}" if unit else role


def issue_token(unit: Unit, name: str, now: datetime, *, operator: str) -> tuple[DeviceToken, str]:
    """A token for a device of the unit, with its text, which is shown this once; a device has one at a time."""
    wanted = names.tidy(name, "device's name", NAME_MOST)
    with transaction.atomic():
        held = rule_sets.held(unit.agency_id)
        device = directory.device_named(unit, wanted)
        if device and access.valid_tokens(now).filter(membership=device).exists():
            raise WrongState(
                f"{unit.call_sign} has a device {device.name!r} with a token: revoke that, or name another."
            )
        device = device or Membership.objects.create(
            agency=held, unit=unit, name=wanted, role=Membership.Role.CREW, user=None
        )
        text = accounts.issue_token(device, now)
        token = DeviceToken.objects.get(digest=access.token_digest(text))
        line = events.TokenIssued(
            token=token.pk, device=device.name, unit=unit.call_sign, expires_at=token.expires_at, operator=operator
        )
        note(held, line, now)
    return token, text


def revoke_token(unit: Unit, name: str, now: datetime, *, operator: str) -> Membership:
    """End a device and its tokens: its sockets close within 5 s, its name is free again; raises ``NotFound``."""
    with transaction.atomic():
        held = rule_sets.held(unit.agency_id)
        device = directory.device_named(unit, name)
        if device is None:
            raise NotFound(f"{unit.call_sign} has no device {name.strip()!r}.")
        for token in DeviceToken.objects.filter(membership=device, revoked_at=None):
            accounts.revoke_token(token, now)
        accounts.end_membership(device, now)
        note(held, events.TokenRevoked(device=device.name, unit=unit.call_sign, operator=operator), now)
    return device


def end_memberships(agency: Agency, username: str, now: datetime, *, operator: str) -> list[Membership]:
    """End all that a person is in the agency, with sessions, tokens and links; sockets close within 5 s."""
    with transaction.atomic():
        held = rule_sets.held(agency.pk)
        members = directory.members_named(held, username)
        for member in members:
            accounts.end_membership(member, now)
            told = {"username": member.user.username if member.user else "", "role": member.role}
            note(held, events.MemberEnded(member=member.pk, **told, operator=operator), now)
        _end_sessions(members[0].user_id)
    return members


def _end_sessions(user: object) -> None:
    """A session would else go on as what the person still is elsewhere; a session does not tell whose it is."""
    ended = [row.pk for row in Session.objects.all() if row.get_decoded().get(SESSION_KEY) == str(user)]
    Session.objects.filter(pk__in=ended).delete()
