"""The published unit library with all that it knows, for arithmetic beside ours."""

from functools import cache

import pint


@cache
def library() -> pint.UnitRegistry:
    """Read once, and only by who asks: it takes a second."""
    registry: pint.UnitRegistry = pint.UnitRegistry()
    registry.define("drug_unit = [activity]")
    registry.define("mEq = [charge_equivalents]")
    return registry
