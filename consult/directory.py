"""Agencies, units and people by the names that whoever runs the server types, or by their ids."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

from consult import names
from consult.models import Agency, Membership, Unit, User
from consult.problems import NotFound

Named = TypeVar("Named", Agency, Unit)


def agency_named(text: str) -> Agency:
    """The agency with this name, in any case, or this id; raises ``NotFound``."""
    if agency := _one(Agency.objects.all(), text, lambda agency: agency.name):
        return agency
    raise NotFound(f"There is no agency {text!r}. create_agency makes one.")


def unit_named(agency: Agency, text: str) -> Unit:
    """The agency's unit with this call sign, in any case, or this id; raises ``NotFound``."""
    if unit := _one(Unit.objects.filter(agency=agency), text, lambda unit: unit.call_sign):
        return unit
    raise NotFound(f"{agency.name} has no unit {text!r}. add_unit makes one.")


def person_named(username: str) -> User | None:
    """The account with this user name, in any case."""
    return User.objects.filter(username__iexact=names.username(username)).first()


def members_named(agency: Agency, username: str) -> list[Membership]:
    """What the person with this user name is in the agency now, at least one thing; raises ``NotFound``."""
    wanted = names.username(username)
    found = Membership.objects.filter(agency=agency, user__username__iexact=wanted, ended_at=None)
    members = list(found.select_related("user", "unit", "agency").order_by("id"))
    if not members:
        raise NotFound(f"{agency.name} has no member {wanted!r}.")
    return members


def device_named(unit: Unit, name: str) -> Membership | None:
    """The unit's device with this name, in any case, unless it has been ended."""
    devices = Membership.objects.filter(unit=unit, user=None, ended_at=None)
    return next((device for device in devices if names.folded(device.name) == names.folded(name)), None)


def _one(rows: Iterable[Named], text: str, name_of: Callable[[Named], str]) -> Named | None:
    """The row with this id or name; there are few, and no database folds all letters as we do."""
    wanted = names.folded(text)
    return next((row for row in rows if wanted in (str(row.pk), names.folded(name_of(row)))), None)
