"""What is in hand: syringes, bags and cylinders."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from msgspec import Struct

from dosing.ground.amounts import Amount
from dosing.ground.kinds import Id, Time
from dosing.ground.oxygen import Cylinder


class Container(Struct, frozen=True, kw_only=True):
    """What is in hand: ``form`` is ``syringe``, ``bag`` or ``cylinder``; in hand from ``at`` until it is discarded.

    ``hung`` says that a dose hung it, the one with the same id. ``strength`` None: the fluid itself.
    """

    id: Id
    form: str
    at: Time
    treatment: str | None = None
    strength: Amount | None = None
    volume: Amount | None = None
    cylinder: Cylinder | None = None
    discarded_at: Time | None = None
    hung: bool = False

    def in_hand(self, moment: datetime) -> bool:
        """Whether it was there at the moment, and not yet discarded."""
        return self.at <= moment and (self.discarded_at is None or moment < self.discarded_at)


def newest_in_hand(containers: Iterable[Container], treatment: str, moment: datetime) -> Container | None:
    """The newest syringe of a treatment, or container else, in hand at the moment and of known strength."""
    known = (each for each in containers if each.treatment == treatment and each.strength)
    return max((each for each in known if each.in_hand(moment)), key=lambda each: each.at, default=None)
