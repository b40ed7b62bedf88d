"""How deep a run tests: short by default; ``TESTS=night`` tries each cell of the large products, and more examples.

What is marked ``night`` is left out by day: what a test beside it shows in part, and what is of looks and comfort.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from itertools import islice
from typing import TypeVar

from hypothesis import HealthCheck, settings

NIGHT = os.environ.get("TESTS") == "night"
Cell = TypeVar("Cell")

settings.register_profile(
    # The same examples each time: what stops somebody's work must be what he changed.
    "short",
    max_examples=20,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
settings.register_profile("night", settings.get_profile("short"), max_examples=400, derandomize=False)
PROFILE = "night" if NIGHT else "short"
# Of a test that is asked of each treatment: they are dozens, and what is wrong is seldom wrong of one alone.
few = settings.get_profile(PROFILE) if NIGHT else settings(settings.get_profile(PROFILE), max_examples=4)
# Of a test of which each example is a whole case, told in an empty one each time.
few_cases = settings(few, max_examples=40 if NIGHT else 4, suppress_health_check=[HealthCheck.function_scoped_fixture])


def thinned(cells: Iterable[Cell], every: int, first: int = 0) -> Iterator[Cell]:
    """Every so-manieth cell of a product from the first one on; at night all of them."""
    return iter(cells) if NIGHT else islice(cells, first % every, None, every)
