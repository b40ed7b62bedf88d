"""Those who wait, by the place they come from: when there are too many, one of the most crowded place has to go."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Member = TypeVar("Member", bound=Hashable)


class Crowd(Generic[Member]):
    """At most `most` members; `worth` tells which of a place's is the least worth waiting for (the smallest).

    One client that comes a thousand times crowds out itself, and nobody who comes from elsewhere.
    """

    def __init__(self, most: int, worth: Callable[[Member], float]) -> None:
        self.most, self.worth = most, worth
        self._places: defaultdict[Hashable, set[Member]] = defaultdict(set)
        self._count = 0

    def __len__(self) -> int:
        return self._count

    def join(self, member: Member, place: Hashable) -> Member | None:
        """Take the member in; the one that has to go for it, if any, has left already."""
        going = self._least_of_the_most_crowded() if self._count >= self.most else None
        self._places[place].add(member)
        self._count += 1
        return going

    def leave(self, member: Member, place: Hashable) -> None:
        """Let the member go, if it is still here."""
        members = self._places.get(place, set())
        if member in members:
            members.remove(member)
            self._count -= 1
        if not members:
            self._places.pop(place, None)

    def _least_of_the_most_crowded(self) -> Member:
        place = max(self._places, key=lambda each: len(self._places[each]))
        least = min(self._places[place], key=self.worth)
        self.leave(least, place)
        return least
