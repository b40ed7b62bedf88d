"""One-time sign-in links: a person sets a password by one and is signed in; only the link's digest is kept."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet

from consult import access, events
from consult.actions import people, rule_sets
from consult.models import Membership, SignInLink
from consult.problems import NotFound
from dosing.ground.language import gettext as _

LIFE = timedelta(hours=24)


def issue(membership: Membership, now: datetime, *, operator: str, life: timedelta = LIFE) -> tuple[SignInLink, str]:
    """A link for a member with its secret text, shown this once; earlier links of the person work no longer."""
    text = secrets.token_urlsafe(32)
    with transaction.atomic():
        held = rule_sets.held(membership.agency_id)
        SignInLink.objects.filter(membership__user=membership.user_id, used_at=None, expires_at__gt=now).update(
            expires_at=now
        )
        link = SignInLink.objects.create(
            membership=membership, digest=access.token_digest(text), created_at=now, expires_at=now + life
        )
        line = events.SignInLinkIssued(
            member=membership.pk, username=_username(membership), expires_at=link.expires_at, operator=operator
        )
        people.note(held, line, now)
    return link, text


def found(text: str, now: datetime) -> SignInLink:
    """The link with this text; raises ``NotFound``, the same for one unknown, used, expired or of a member who left."""
    link = _valid(now).filter(digest=access.token_digest(text)).first()
    if link is None:
        raise NotFound(_("This sign-in link does not work."))
    return link


def use(text: str, password: str, now: datetime) -> Membership:
    """Set the password and use the link up; answers as what its person acts. Raises ``NotFound`` as `found` does."""
    with transaction.atomic():
        held = rule_sets.held(found(text, now).membership.agency_id)  # of two uses at once one waits here
        link = found(text, now)
        member = link.membership
        link.used_at = now
        link.save(update_fields=["used_at"])
        if member.user:
            member.user.set_password(password)
            member.user.save(update_fields=["password"])
        actor = access.actor_of_membership(member)
        people.note(held, events.SignInLinkUsed(member=member.pk, username=_username(member)), now, actor)
    return member


def _valid(now: datetime) -> QuerySet[SignInLink]:
    links = SignInLink.objects.filter(used_at=None, expires_at__gt=now, membership__ended_at=None)
    return links.filter(membership__user__is_active=True).select_related(
        "membership__user", "membership__unit", "membership__agency"
    )


def _username(membership: Membership) -> str:
    return membership.user.username if membership.user else ""
