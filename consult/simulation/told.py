"""How a crew meets instructions: it says that it has understood, does what it was told, and says so."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

NEXT = {"given": "understood", "understood": "done"}
DOES_FOR = timedelta(seconds=45)


class Instructed:
    """Watches the instructions on a card and says when the crew goes a step on, after the time that people take."""

    def __init__(self, reaction: timedelta) -> None:
        self._takes = {"given": reaction, "understood": reaction + DOES_FOR}
        self._since: dict[tuple[str, str], datetime] = {}
        self._said: set[tuple[str, str]] = set()

    def steps(self, instructions: Iterable[Mapping[str, Any]], moment: datetime) -> list[tuple[str, str]]:
        """The steps that are due now, each with the instruction's id; none is said twice."""
        due = []
        for each in instructions:
            stands = str(each["id"]), str(each["state"])
            since = self._since.setdefault(stands, moment)
            if stands not in self._said and moment - since >= self._takes[stands[1]]:
                self._said.add(stands)
                due.append((NEXT[stands[1]], stands[0]))
        return due
