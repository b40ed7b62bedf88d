"""A page of a list."""

from __future__ import annotations

from typing import Generic, TypeVar

from msgspec import Struct

Row = TypeVar("Row")


class Page(Struct, Generic[Row], frozen=True, kw_only=True):
    """A page of a list, and where its neighbors are."""

    next: str | None
    previous: str | None
    results: tuple[Row, ...]
