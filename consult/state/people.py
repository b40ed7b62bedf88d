"""Who makes entries, and for which unit."""

from __future__ import annotations

from msgspec import Struct

from dosing.ground.kinds import Id


class Named(Struct, frozen=True):
    """A person by the id of their membership and their name."""

    id: Id
    name: str


class Author(Named, frozen=True):
    """Who made an entry, and in which role."""

    role: str

    @property
    def is_crew(self) -> bool:
        """A unit's crew or its device."""
        return self.role == "crew"

    @property
    def is_physician(self) -> bool:
        """May decide: a physician, or the medical director, who is one besides."""
        return self.role in ("physician", "director")


class UnitNamed(Struct, frozen=True):
    """A unit by its id and its call sign; ``call`` is the number or channel by which it is reached."""

    id: Id
    call_sign: str
    call: str = ""
