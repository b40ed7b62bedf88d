"""A crew in a radio shadow: what it enters from 12:05 on is kept, and goes out once there is a link again."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from tests.api.conftest import Program, new_id
from tests.api.story import Story
from tests.conftest import NOON

MOST_ENTRIES, MOST_BYTES = 200, 256 * 1024  # contract, "Store and forward"
LINK_AGAIN = 8 * 60
PUSH = "epinephrine-push-dose"
ADULT = {"age": {"value": 58, "unit": "years"}, "weight": {"value": 80, "unit": "kg", "basis": "stated"}}
Kept = dict[str, Any]


@dataclass
class Shadow:
    """The entries that wait, oldest first; minutes count from noon, by a clock that is `ahead` minutes ahead."""

    story: Story
    ahead: float = 0
    kept: list[Kept] = field(default_factory=list)

    def time(self, minutes: float) -> str:
        """What the phone's clock shows then."""
        return (NOON + timedelta(minutes=minutes + self.ahead)).isoformat()

    def keep(self, kind: str, at: float | None = None, when: str = "at", **content: Any) -> str:
        """Keep an entry of the case, of something that happened then; its id."""
        happened = {} if at is None else {when: self.time(at)}
        about = {} if kind == "case" or {"order", "intervention"} & content.keys() - _told_of(kind) else self.case
        self.kept.append({"kind": kind, "id": new_id(), **about, **happened, **content})
        return str(self.kept[-1]["id"])

    @property
    def case(self) -> dict[str, str]:
        return {"case": self.story.case}

    def read(self, at: float, **values: Any) -> str:
        return self.keep("vitals", at, "taken_at", **values)

    def push(self, at: float, dose: str = "10 mcg", **more: Any) -> str:
        return self.keep("intervention", at, "given_at", **self.story.dose(PUSH, dose), **more)

    def post(self, entries: Iterable[Kept], by: Program | None = None) -> Any:
        """The answer to a batch of these entries, sent now."""
        now = (self.story.now - NOON) / timedelta(minutes=1)
        return (by or self.story.crew).post("batch/", {"sent_at": self.time(now), "entries": list(entries)})

    def send(self, entries: Iterable[Kept] | None = None) -> list[dict[str, Any]]:
        """How the entries fared, all that are kept unless others are named."""
        answer = self.post(self.kept if entries is None else entries)
        assert answer.status_code == 200, answer.content
        results: list[dict[str, Any]] = answer.json()["results"]
        return results


def _told_of(kind: str) -> set[str]:
    """What an entry of this kind names besides its case."""
    return {"order"} if kind == "intervention" else set()


def statuses(results: list[dict[str, Any]]) -> list[int]:
    return [each["status"] for each in results]


def in_batches(entries: list[Kept]) -> list[list[Kept]]:
    """The entries in their order, as few batches as the contract allows."""
    batches: list[list[Kept]] = [[]]
    size = 100
    for entry in entries:
        size += len(json.dumps(entry)) + 2
        if len(batches[-1]) == MOST_ENTRIES or size > MOST_BYTES:
            batches.append([])
            size = 100 + len(json.dumps(entry)) + 2
        batches[-1].append(entry)
    return batches
