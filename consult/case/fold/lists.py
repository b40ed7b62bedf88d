"""Tuples of things that have an id: one put in its place, one taken out."""

from __future__ import annotations

from typing import Protocol, TypeVar


class Identified(Protocol):
    """Something with an id."""

    @property
    def id(self) -> str:
        """Its id in the case."""


Item = TypeVar("Item", bound=Identified)


def put(items: tuple[Item, ...], item: Item) -> tuple[Item, ...]:
    """The items with this one in the place of the one with its id, or at the end."""
    for place, other in enumerate(items):
        if other.id == item.id:
            return (*items[:place], item, *items[place + 1 :])
    return (*items, item)


def without(items: tuple[Item, ...], item_id: str) -> tuple[Item, ...]:
    """The items without the one with this id."""
    return tuple(item for item in items if item.id != item_id)
