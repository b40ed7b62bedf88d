"""Whether a person works the unit's case: then the simulated crew stands back from it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from consult.simulation.link import Link

TAKEN_OVER = "case.taken_over"  # a person has opened it on the crew's pages


class Lookout:
    """One case's journal as far as it was read; whoever opened the case is the unit's own device."""

    def __init__(self, link: Link, case: str) -> None:
        self._link, self._case = link, case
        self._read = 0
        self._device = ""

    def person(self, seq: int) -> str:
        """Who of the unit works the case beside its device, "" while nobody does; asks only what is new up to `seq`."""
        while self._read < seq:
            page = self._link.read(f"cases/{self._case}/journal/?after={self._read}")
            lines = page["results"] if page else []
            if not lines:
                break
            self._read = lines[-1]["seq"]
            if found := next(filter(None, map(self._person_of, lines)), ""):
                return found
        return ""

    def _person_of(self, line: Mapping[str, Any]) -> str:
        by = line["by"] or {}
        if line["kind"] == TAKEN_OVER:
            return str(line["data"]["crew"])
        if by.get("role") != "crew":
            return ""
        self._device = self._device or by["name"]
        return "" if by["name"] == self._device else str(by["name"])
