"""Copies of values with some of their fields changed, as Python 3.13's ``copy.replace`` makes them."""

from __future__ import annotations

import dataclasses
from typing import Any, TypeVar

import msgspec

Value = TypeVar("Value")


def replace(value: Value, **changes: Any) -> Value:
    """A copy of a struct or dataclass with these fields changed."""
    if isinstance(value, msgspec.Struct):
        return msgspec.structs.replace(value, **changes)
    return dataclasses.replace(value, **changes)  # type: ignore[type-var]
