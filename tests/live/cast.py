"""Who takes part in the live tests, and what happens to their cases, written straight to the rows that the hub reads.

Ridgeline is an ambulance agency with units Seven and Nine; Lowmoor is another agency.
"""

from __future__ import annotations

import json
import secrets
from dataclasses import dataclass, field
from datetime import timedelta

from django.db import transaction
from django.db.models import F

from consult import clock, notices
from consult.access import token_digest
from consult.models import Agency, Case, DeviceToken, Membership, RuleSetRecord, Unit, User


@dataclass
class Member:
    """A membership with a token that stands for it."""

    row: Membership
    token: str

    def revoke(self) -> None:
        """Take the token back."""
        DeviceToken.objects.filter(membership=self.row).update(revoked_at=clock.now())

    def expire(self) -> None:
        """Let the token's time run out."""
        DeviceToken.objects.filter(membership=self.row).update(expires_at=clock.now())

    def leave(self) -> None:
        """End the membership."""
        Membership.objects.filter(pk=self.row.pk).update(ended_at=clock.now())


@dataclass
class Cast:
    """Everybody, by name; cases are opened, changed and closed here."""

    ridgeline: Agency
    lowmoor: Agency
    seven: Unit
    nine: Unit
    members: dict[str, Member] = field(default_factory=dict)

    def open_case(self, unit: Unit | None = None) -> Case:
        """A new case of Seven, or of the unit named, with its first journal number."""
        unit = unit or self.seven
        now = clock.now()
        case = Case(
            agency=unit.agency,
            unit=unit,
            by=self.members["crew of Seven"].row,
            rule_set=RuleSetRecord.objects.first(),
            opened_at=now,
            received_at=now,
            last_contact_at=now,
            patient={},
        )
        case.save()
        change(case)
        return case


def change(case: Case, *, told: bool = True, **fields: object) -> int:
    """Commit the case's next entry and return its seq; with a hint, or without one as if it had been lost."""
    with transaction.atomic():
        Case.objects.filter(pk=case.pk).update(seq=F("seq") + 1, **fields)
        case.refresh_from_db()
        card = {"case": str(case.uid), "seq": case.seq, "unit": {"id": str(case.unit_id)}, "state": case.state}
        Case.objects.filter(pk=case.pk).update(card=json.dumps(card))
    if told:
        notices.tell(case.pk, case.seq)
    return case.seq


def make_cast() -> Cast:
    """Both agencies with everybody in them."""
    ridgeline, lowmoor = Agency.objects.create(name="Ridgeline"), Agency.objects.create(name="Lowmoor")
    seven, nine = (Unit.objects.create(agency=ridgeline, call_sign=name) for name in ("Seven", "Nine"))
    elsewhere = Unit.objects.create(agency=lowmoor, call_sign="Two")
    cast = Cast(ridgeline, lowmoor, seven, nine)
    for name, agency, role, unit in (
        ("crew of Seven", ridgeline, "crew", seven),
        ("crew of Nine", ridgeline, "crew", nine),
        ("physician", ridgeline, "physician", None),
        ("supervisor", ridgeline, "supervisor", None),
        ("director", ridgeline, "director", None),
        ("physician of Lowmoor", lowmoor, "physician", None),
        ("crew of Lowmoor", lowmoor, "crew", elsewhere),
    ):
        cast.members[name] = _member(name, agency, role, unit)
    RuleSetRecord.objects.create(digest="0" * 64, name="demonstration", version="1", content="")
    return cast


def _member(name: str, agency: Agency, role: str, unit: Unit | None) -> Member:
    person = None if role == "crew" else User.objects.create_user(username=f"{name}-{secrets.token_hex(4)}")
    row = Membership.objects.create(agency=agency, user=person, name=name, role=role, unit=unit)
    token, now = secrets.token_hex(32), clock.now()
    DeviceToken.objects.create(
        membership=row, digest=token_digest(token), created_at=now, expires_at=now + timedelta(hours=1)
    )
    return Member(row, token)
