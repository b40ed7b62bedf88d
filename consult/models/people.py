"""Agencies, their units, and who acts for them: people by membership, devices by token."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models.functions import Lower

from consult.models.fields import new_id


def name_of(first_name: str, last_name: str, username: str) -> str:
    """A person's name as screens and the journal write it."""
    return f"{first_name} {last_name}".strip() or username


class User(AbstractUser):
    """A person who signs in; what they may do comes from their memberships."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)

    @property
    def display_name(self) -> str:
        """The name as screens and the journal write it."""
        return name_of(self.first_name, self.last_name, self.username)


class Agency(models.Model):
    """An ambulance agency with its medical control: the wall around all its data.

    `seq` and `head` are the last number and digest of its own journal: what happened in the agency and in no case.
    `call_back` is what its crews call when the board is not enough, `notify` who is told when nobody answers.
    """

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    name = models.CharField(max_length=120, unique=True)
    timezone = models.CharField(max_length=60, default="UTC")
    call_back = models.CharField(max_length=60, default="", blank=True)
    notify = models.CharField(max_length=120, default="", blank=True)
    rule_set = models.ForeignKey("consult.RuleSetRecord", models.PROTECT, null=True, related_name="agencies")
    seq = models.PositiveIntegerField(default=0)
    head = models.CharField(max_length=64, default="", blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(Lower("name"), name="one_agency_per_name_in_any_case")]


class Unit(models.Model):
    """A vehicle with its crew; the call sign stands on every card, with the number or channel `call` to reach it."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    agency = models.ForeignKey(Agency, models.PROTECT, related_name="units")
    call_sign = models.CharField(max_length=40)
    call = models.CharField(max_length=60, default="", blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["agency", "call_sign"], name="one_unit_per_call_sign"),
            models.UniqueConstraint("agency", Lower("call_sign"), name="one_unit_per_call_sign_in_any_case"),
        ]


class Membership(models.Model):
    """What a person or a device is in one agency; a token or a session acts as exactly one of these."""

    class Role(models.TextChoices):
        CREW = "crew"
        PHYSICIAN = "physician"
        SUPERVISOR = "supervisor"
        DIRECTOR = "director"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    agency = models.ForeignKey(Agency, models.PROTECT, related_name="memberships")
    user = models.ForeignKey(User, models.PROTECT, null=True, related_name="memberships")
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=12, choices=Role.choices)
    unit = models.ForeignKey(Unit, models.PROTECT, null=True, related_name="memberships")
    ended_at = models.DateTimeField(null=True)
    # The rules that they were told of last: they see what has changed since until they say that they have read it.
    rules_seen = models.ForeignKey("consult.RuleSetRecord", models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(role="crew", unit__isnull=False)
                | (~models.Q(role="crew") & models.Q(unit__isnull=True)),
                name="crew_have_a_unit_and_nobody_else",
            )
        ]


class DeviceToken(models.Model):
    """A program's key: 256 random bits of which only the SHA-256 digest is kept."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    membership = models.ForeignKey(Membership, models.PROTECT, related_name="tokens")
    digest = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)


class SignInLink(models.Model):
    """A link by which a person sets a password and signs in, once: of its 256 random bits only the digest is kept."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    membership = models.ForeignKey(Membership, models.PROTECT, related_name="sign_in_links")
    digest = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)
