"""Store and forward: what a unit records waits here until the server has it.

Entries go out one by one in the order in which they were made. When many have gathered (history, a radio shadow) they
go as a batch, readings first, so that a dose never looks unanswered only because its reading sits further down.
"""

from __future__ import annotations

import json
import logging
from datetime import datetime, timedelta
from typing import Any

from consult.simulation.entries import Entry, stamp
from consult.simulation.link import Answer, Link, NoAnswer, for_later

log = logging.getLogger(__name__)

ALONE_UP_TO = 3
MOST_ENTRIES = 150
MOST_BYTES = 200_000
SHORTEST_WAIT = timedelta(seconds=0.5)
LONGEST_WAIT = timedelta(seconds=15)
FIRST = {"case": 0, "vitals": 1}


class Outbox:
    """The queue of one unit; it never loses an entry that the server has not answered, and never raises."""

    def __init__(self, name: str, link: Link) -> None:
        self.name = name
        self.waiting: list[Entry] = []
        self.refused: list[tuple[Entry, dict[str, Any]]] = []
        self._link = link
        self._wait = SHORTEST_WAIT
        self._not_before: datetime | None = None

    def put(self, entry: Entry) -> None:
        """Keep an entry until it can be sent."""
        self.waiting.append(entry)

    def flush(self, moment: datetime) -> None:
        """Send what waits; after a failure leave the line alone for a while, longer each time."""
        if self._not_before and moment < self._not_before:
            return
        try:
            while self.waiting:
                self._send_some(moment)
        except NoAnswer as error:
            log.warning("%s: %s; %d entries wait", self.name, error, len(self.waiting))
            self._not_before = moment + max(self._wait, timedelta(seconds=error.wait))
            self._wait = min(self._wait * 2, LONGEST_WAIT)
        else:
            self._wait, self._not_before = SHORTEST_WAIT, None

    def _send_some(self, moment: datetime) -> None:
        if len(self.waiting) > ALONE_UP_TO:
            self._send_batch(moment)
        else:
            entry = self.waiting[0]
            self._settle(entry, self._link.call(entry.method, entry.path, entry.alone()))

    def _send_batch(self, moment: datetime) -> None:
        chosen = _that_fit(sorted(self.waiting[:MOST_ENTRIES], key=lambda entry: FIRST.get(entry.kind, 2)))
        content = {"sent_at": stamp(moment), "entries": [entry.in_batch() for entry in chosen]}
        answer = self._link.call("POST", "batch/", content)
        if not answer.accepted:
            for entry in chosen:
                self._settle(entry, answer)
            return
        results = {result.get("id"): result for result in answer.body.get("results", [])}
        answers = [_result(results.get(entry.id)) for entry in chosen]
        # Where one must be sent again, what was refused beside it may only have lacked that one: so is that.
        left = any(for_later(result.status) for result in answers)
        for entry, result in zip(chosen, answers, strict=True):
            if result.accepted or not left:
                self._settle(entry, result)
        if left:
            raise NoAnswer("the server did not take part of a batch", answer.wait)

    def _settle(self, entry: Entry, answer: Answer) -> None:
        """Take an answered entry out; a refused one is kept aside, since sending it again would change nothing."""
        self.waiting.remove(entry)
        if not answer.accepted:
            self.refused.append((entry, answer.body))
            log.warning("%s: %s refused with %s: %s", self.name, entry.kind, answer.status, answer.body)


def _result(result: dict[str, Any] | None) -> Answer:
    """One row of a batch answer; a row that is missing counts as a failure of the server."""
    return Answer(int(result["status"]), result.get("problem") or {}) if result else Answer(500, {})


def _that_fit(entries: list[Entry]) -> list[Entry]:
    """As many from the front as one batch may weigh."""
    size = 0
    for count, entry in enumerate(entries):
        size += len(json.dumps(entry.in_batch()))
        if size > MOST_BYTES and count:
            return entries[:count]
    return entries
