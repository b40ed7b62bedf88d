"""The ways into the circulation: which cannula a fluid goes through, and how it is told."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from msgspec import Struct

from dosing.ground.kinds import Id, Time


class Access(Struct, frozen=True, kw_only=True):
    """A way into the circulation: ``iv_access`` or ``io_access``, its gauge where it was told, and what came of it."""

    id: Id
    at: Time
    procedure: str
    gauge: int | float | None = None
    outcome: str | None = None


def gauge_on_record(known: Iterable[Access], at: datetime, named: str | None = None) -> int | float | None:
    """The gauge of the cannula that was named, else of the widest that lay in a vein at that moment.

    None where none is on record with its gauge. The higher the gauge, the narrower the cannula.
    """
    lying = {each.id: each.gauge for each in known if each.gauge is not None and _in_a_vein(each, at)}
    return lying.get(named or "", min(lying.values(), default=None))


def _in_a_vein(access: Access, at: datetime) -> bool:
    return access.procedure == "iv_access" and access.outcome == "done" and access.at <= at
