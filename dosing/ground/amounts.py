"""A number with its unit: what every dose, rate, strength and volume is stated as."""

from __future__ import annotations

from msgspec import Struct

Number = int | float


class Amount(Struct, frozen=True):
    """A number and the unit it was stated in, such as 10 ``mcg`` or 0.1 ``mcg/kg/min``."""

    value: Number
    unit: str
