"""What a physician had before them of a dose when they ordered it."""

from __future__ import annotations

from msgspec import Struct

from dosing.ground.amounts import Amount


class Seen(Struct, frozen=True):
    """One finding beyond a crew's standing limits that a check told: its code, its words, its limit."""

    code: str
    text: str
    limit: Amount | None = None
