"""The line by which something ran is lost: the reason of a pause or an end says so, and from then on the dose."""

from __future__ import annotations

from datetime import datetime

from consult.state.parts import LostLine
from dosing.ground.language import gettext as _

SWELLING = _("Swelling at the IV or IO site")  # what ran went beside the vein
LOST = _("The line is lost")


def told(reason: str | None, at: datetime) -> LostLine | None:
    """The line that the reason of a pause or an end calls lost: it begins with one of the two that a crew picks."""
    said = (reason or "").casefold()
    if not said.startswith((SWELLING.casefold(), LOST.casefold())):
        return None
    return LostLine(at=at, swollen=said.startswith(SWELLING.casefold()))
