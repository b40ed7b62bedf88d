"""Who may act in an agency: what stands in the agency's own journal about units, people and devices."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from consult.events.base import Event, Id
from consult.events.rules import Label


@dataclass(frozen=True, slots=True, kw_only=True)
class PeopleEvent(Event):
    """A change of who may act; `operator` is the system account that ran the command, empty where a member acted."""

    operator: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AgencyCreated(PeopleEvent):
    """The agency was set up, with the rule set that it starts with."""

    kind = "agency.created"
    name: str
    timezone: str
    call_back: str
    notify: str
    rule_set: Label


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitAdded(PeopleEvent):
    """The agency has a further unit."""

    kind = "unit.added"
    unit: Id
    call_sign: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberAdded(PeopleEvent):
    """A person may act for the agency in this role; `unit` is the call sign of a crew's."""

    kind = "member.added"
    member: Id
    username: str
    name: str
    role: str
    unit: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberEnded(PeopleEvent):
    """A person may act in this role no longer; sessions, tokens and sign-in links ended with it."""

    kind = "member.ended"
    member: Id
    username: str
    role: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SignInLinkIssued(PeopleEvent):
    """A person was given a link by which to set a password and sign in, once."""

    kind = "sign_in_link.issued"
    member: Id
    username: str
    expires_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SignInLinkUsed(PeopleEvent):
    """The person used the link: the password is set."""

    kind = "sign_in_link.used"
    member: Id
    username: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TokenIssued(PeopleEvent):
    """A device of the unit was given a token."""

    kind = "token.issued"
    token: Id
    device: str
    unit: str
    expires_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class TokenRevoked(PeopleEvent):
    """The tokens of a device work no longer."""

    kind = "token.revoked"
    device: str
    unit: str
