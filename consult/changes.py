"""The difference between two cards, as the journal keeps it, and the card put together again from such differences."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

Card = dict[str, Any]


def between(old: Card, new: Card) -> Card:
    """The top-level keys of `new` that differ from `old`; the trend as points added and removed."""
    changed = {key: value for key, value in new.items() if key not in old or old[key] != value}
    if "trend" in changed and old.get("trend"):
        points = _points_between(old["trend"], new["trend"])
        if _merged(old["trend"], points) == new["trend"]:
            changed["trend"] = points
    return changed


def _points_between(old: list[Card], new: list[Card]) -> Card:
    known, kept = ({point["t"]: point for point in points} for points in (old, new))
    return {
        "added": [point for point in new if known.get(point["t"]) != point],
        "removed": [point for point in old if kept.get(point["t"]) != point],
    }


def _merged(trend: list[Card], points: Card) -> list[Card]:
    kept = [point for point in trend if point not in points["removed"]] + points["added"]
    return sorted(kept, key=lambda point: str(point["t"]).rstrip("Z"))


def applied(card: Card, changed: Card) -> Card:
    """The card after a journal entry: `card` with the keys that the entry changed."""
    merged = {**card, **changed}
    if isinstance(merged.get("trend"), dict):
        merged["trend"] = _merged(card["trend"], changed["trend"])
    return merged


def replayed(entries: Iterable[Card]) -> Card:
    """The card after the last of these changes, oldest first; nothing is computed anew."""
    card: Card = {}
    for changed in entries:
        card = applied(card, changed)
    return card
