"""Who had the patient before, and to whom control of the case is offered."""

from __future__ import annotations

from msgspec import Struct

from consult.state.parts import Named
from dosing.ground.kinds import Id, Time


class Offer(Struct, frozen=True, kw_only=True):
    """Control of a case, offered at the change of shift: by whom to whom, in which handover."""

    id: Id
    handover: Id
    by: Named
    to: Named
    at: Time
    note: str = ""


class FormerUnit(Struct, frozen=True):
    """A unit that had the patient until it was moved to another."""

    id: Id
    call_sign: str
    until: Time
