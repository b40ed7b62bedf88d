"""Which pressure is aimed at, now and before."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from dosing.ground.amounts import Number
from dosing.ground.kinds import Time


class Goal(Struct, frozen=True, kw_only=True):
    """A pressure goal in mmHg of ``map`` or ``sbp``, ``because`` of whom or what; ``other_floor``: of the other.

    ``since`` is when a physician set it; None holds from the beginning on.
    """

    measure: str
    floor: Number
    ceiling: Number | None = None
    because: str = ""
    other_floor: Number | None = None
    since: Time | None = None


class FormerAims(Struct, frozen=True, kw_only=True):
    """What a rule set aimed at in each phase ``until`` another one, or something else of the patient, was known."""

    until: Time
    by_phase: Mapping[str, Goal]
