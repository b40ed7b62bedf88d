"""What happens to cases in the live tests, written straight to the rows that the hub reads, without the rules."""

from __future__ import annotations

from functools import partial
from typing import Any

import msgspec
from django.db import transaction
from django.db.models import F

from consult import clock, hints
from consult.access import Actor
from consult.models import Case, DeviceToken, Membership, Unit, User


def open_case(crew: Actor, *, told: bool = True) -> Case:
    """A new case of the crew's unit, with its first journal number."""
    now = clock.now()
    unit = Unit.objects.select_related("agency").get(pk=crew.unit)
    case = Case(
        agency=unit.agency,
        unit=unit,
        by_id=crew.membership,
        rule_set_id=unit.agency.rule_set_id,
        opened_at=now,
        received_at=now,
        last_contact_at=now,
        patient={},
    )
    with transaction.atomic():
        case.save()
        change(case, told=told)
    return case


def change(case: Case, *, told: bool = True, shown: dict[str, Any] | None = None, **fields: Any) -> int:
    """Commit the case's next entry, its card showing this too, and return its seq; with a hint, or as if it were lost.

    All in one commit, as each entry is: a round of healing that came between would read half of it.
    """
    with transaction.atomic():
        Case.objects.filter(pk=case.pk).update(seq=F("seq") + 1, **fields)
        case.refresh_from_db()
        card = {"case": str(case.uid), "seq": case.seq, "unit": {"id": str(case.unit_id)}, "state": case.state}
        card |= {"last_contact_at": case.last_contact_at, **(shown or {})}
        Case.objects.filter(pk=case.pk).update(card=msgspec.json.encode(card).decode())
        if told:
            transaction.on_commit(partial(hints.tell, case.pk, case.seq))
    return case.seq


def revoke(member: Actor) -> None:
    """Take the token back."""
    DeviceToken.objects.filter(pk=member.token).update(revoked_at=clock.now())


def expire(member: Actor) -> None:
    """Let the token's time run out."""
    DeviceToken.objects.filter(pk=member.token).update(expires_at=clock.now())


def leave(member: Actor) -> None:
    """End the membership."""
    Membership.objects.filter(pk=member.membership).update(ended_at=clock.now())


def person(member: Actor) -> User:
    """The account of the person who is this member, made on the first call."""
    row = Membership.objects.select_related("user").get(pk=member.membership)
    if row.user is None:
        row.user = User.objects.create_user(username=member.name)
        row.save()
    return row.user
