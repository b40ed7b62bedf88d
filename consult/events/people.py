"""Who may act in an agency: what stands in the agency's own journal about units, people and devices."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from consult.events.base import Event
from consult.events.rules import Label


class PeopleEvent(Event, frozen=True, kw_only=True):
    """A change of who may act; `operator` is the system account that ran the command, empty where a member acted."""

    operator: str = ""


class AgencyCreated(PeopleEvent, frozen=True, kw_only=True):
    """The agency was set up, with the rule set that it starts with."""

    kind = "agency.created"
    name: str
    timezone: str
    call_back: str
    notify: str
    rule_set: Label


class UnitAdded(PeopleEvent, frozen=True, kw_only=True):
    """The agency has a further unit."""

    kind = "unit.added"
    unit: UUID
    call_sign: str
    call: str = ""


class MemberAdded(PeopleEvent, frozen=True, kw_only=True):
    """A person may act for the agency in this role; `unit` is the call sign of a crew's."""

    kind = "member.added"
    member: UUID
    username: str
    name: str
    role: str
    unit: str | None


class MemberEnded(PeopleEvent, frozen=True, kw_only=True):
    """A person may act in this role no longer; sessions, tokens and sign-in links ended with it."""

    kind = "member.ended"
    member: UUID
    username: str
    role: str


class SignInLinkIssued(PeopleEvent, frozen=True, kw_only=True):
    """A person was given a link by which to set a password and sign in, once."""

    kind = "sign_in_link.issued"
    member: UUID
    username: str
    expires_at: datetime


class SignInLinkUsed(PeopleEvent, frozen=True, kw_only=True):
    """The person used the link: the password is set."""

    kind = "sign_in_link.used"
    member: UUID
    username: str


class DestinationAdded(PeopleEvent, frozen=True, kw_only=True):
    """Alerts that escalate are told to this e-mail address, or to a program at this host."""

    kind = "destination.added"
    destination: UUID
    how: str
    address: str


class DestinationEnded(PeopleEvent, frozen=True, kw_only=True):
    """Nothing is told to this address any more."""

    kind = "destination.ended"
    destination: UUID
    how: str
    address: str


class TokenIssued(PeopleEvent, frozen=True, kw_only=True):
    """A device of the unit was given a token."""

    kind = "token.issued"
    token: UUID
    device: str
    unit: str
    expires_at: datetime


class TokenRevoked(PeopleEvent, frozen=True, kw_only=True):
    """The tokens of a device work no longer."""

    kind = "token.revoked"
    device: str
    unit: str
