"""Doses that a physician ordered by voice, and what that physician said of it later."""

from __future__ import annotations

from msgspec import Struct

from consult.state.people import Named
from dosing.ground.kinds import Time


class Countersigned(Struct, frozen=True, kw_only=True):
    """What the physician named for a voice order said; `agreed` false: they gave no such order."""

    agreed: bool
    by: str
    at: Time
    reason: str | None = None


class VoiceOrder(Struct, frozen=True, kw_only=True):
    """Who ordered a dose by voice, and when; ``countersigned`` null while that waits for their answer."""

    physician: Named
    at: Time
    countersigned: Countersigned | None = None

    @property
    def stands(self) -> bool:
        """Whether nobody has said that there was no such order."""
        return self.countersigned is None or self.countersigned.agreed
