"""An order that lets a crew step a rate up by itself: by how much, how often, up to what, for which pressure."""

from __future__ import annotations

from typing import Annotated

from msgspec import Struct

from dosing.ground.amounts import Amount, Number
from dosing.ground.kinds import one_of


class PressureFloor(Struct, frozen=True):
    """The pressure to reach, in mmHg: the least ``map`` or ``sbp`` at which no further step is needed."""

    measure: Annotated[str, one_of("map", "sbp")]
    floor: Number


class Titration(Struct, frozen=True, kw_only=True):
    """Up by a step, no sooner than every so many minutes, to the most; from ``call_at`` on the crew calls first."""

    step: Amount
    every_min: Number
    most: Amount
    goal: PressureFloor
    call_at: Amount | None = None
