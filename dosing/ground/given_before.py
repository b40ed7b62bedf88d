"""What of a long case is only added up: sums of what was given, and what that drew from syringes and bags."""

from __future__ import annotations

from msgspec import Struct

from dosing.ground.kinds import Time


class GivenFor(Struct, frozen=True, kw_only=True):
    """What of it was given for one indication: how often, and the sums as in ``GivenBefore``."""

    count: int = 0
    sums: dict[str, str] = {}


class GivenBefore(Struct, frozen=True, kw_only=True):
    """What was given of one treatment before the doses that are kept one by one.

    ``sums`` are exact numbers as text by unit, ``units`` those in which doses were stated, in the order of their first;
    ``bags`` is how many bags of blood they were; ``by_indication`` is what of it was given for what.
    """

    treatment: str
    first_at: Time
    last_at: Time
    name: str | None = None
    count: int = 0
    sums: dict[str, str] = {}
    units: tuple[str, ...] = ()
    infused: bool = False
    bags: str = "0"
    by_indication: dict[str, GivenFor] = {}


class DrawnBefore(Struct, frozen=True):
    """What those doses had drawn from a syringe or bag, mL as exact text, when last, and the last few draws."""

    volume: str
    left_at: Time
    draws: tuple[tuple[Time, str], ...] = ()


class Earlier(Struct, frozen=True, kw_only=True):
    """What of a long case is only added up: doses up to ``until``, by what they were, and by id what they drew from.

    A question about a time up to then needs each of them again.
    """

    until: Time | None = None
    given: dict[str, GivenBefore] = {}
    drawn: dict[str, DrawnBefore] = {}
