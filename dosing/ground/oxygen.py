"""Oxygen: the cylinder that was opened, and the flow that was read."""

from __future__ import annotations

from msgspec import Struct

from dosing.ground.amounts import Amount, Number
from dosing.ground.kinds import Time


class Cylinder(Struct, frozen=True, kw_only=True):
    """An oxygen cylinder by its size or its factor (``L/psi`` or ``L/bar``), and what its gauge read (psi or bar)."""

    pressure: Amount
    size: str | None = None
    factor: Amount | None = None


class OxygenFlow(Struct, frozen=True):
    """The oxygen flow that was read at a moment, in L/min."""

    at: Time
    l_min: Number
