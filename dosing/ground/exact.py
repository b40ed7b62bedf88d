"""Numbers compared exactly, and shown so that rounding never hides a threshold."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from math import ceil, floor

Exact = int | Fraction
HALF = Fraction(1, 2)


def exact(number: float | Fraction) -> Exact:
    """The number as it was written: 49.95 is 4995/100, not its binary neighbor; whole numbers stay integers."""
    if type(number) is Fraction:  # isinstance would ask its abstract base each time
        return number
    return int(number) if number == int(number) else Fraction(str(number))


# The same few amounts are written again and again, and reading one takes longer than reckoning with it.
@lru_cache(maxsize=4096)
def as_written(number: float) -> Fraction:
    """The number as it was written, always a fraction."""
    return Fraction(str(number))


def plain(number: Exact) -> str:
    """The number without trailing zeros, such as ``65`` or ``41.5``."""
    return f"{float(number):.2f}".rstrip("0").rstrip(".")


@lru_cache(maxsize=4096)
def shown(value: Exact, *, places: int = 0, below: tuple[Exact, ...] = (), above: tuple[Exact, ...] = ()) -> str:
    """The value rounded half up, with one more place where the rounded number would cross a threshold.

    ``below`` are thresholds under which something is said, ``above`` those over which it is. Where even one more place
    would cross, the last place is cut off on the value's own side: 64.97 under 65 is ``64.9``.
    """

    def crosses(rounded: Fraction) -> bool:
        return any(value < limit <= rounded or rounded < limit <= value for limit in below) or any(
            value > limit >= rounded or rounded > limit >= value for limit in above
        )

    for step in (places, places + 1):
        rounded = Fraction(floor(value * 10**step + HALF), 10**step)
        if not crosses(rounded):
            return _digits(rounded, step)
    cut = floor if rounded > value else ceil
    return _digits(Fraction(cut(value * 10**step), 10**step), step)


def _digits(number: Fraction, places: int) -> str:
    text = f"{float(number):.{places}f}"
    return text.rstrip("0").rstrip(".") if places else text
