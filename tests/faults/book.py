"""The book of a shift: what each sender sent and was answered, and what waited for whom."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

from consult.simulation.link import Answer, Link, NoAnswer, for_later

PAUSE_S = 0.2  # before what got no answer is sent again
MOST_S = 90.0  # after which a board that answers nothing is given up


def now() -> datetime:
    """The present time; nobody injects it into other processes."""
    return datetime.now(UTC)


def stamp(moment: datetime) -> str:
    """As the API wants it."""
    return moment.isoformat()


@dataclass
class Sent:
    """One write: where it went under its id, how often, and its answer: the status and the case's number after it."""

    id: str
    path: str
    content: Mapping[str, Any]
    by: Link
    method: str = "POST"
    tries: int = 0
    status: int = 0
    seq: int | None = None
    otherwise: str = ""  # what a later answer said that is not the first

    @property
    def accepted(self) -> bool:
        return 200 <= self.status < 300

    def answered(self, status: int, seq: int | None) -> None:
        """Note an answer; a later one must say the same number."""
        if not self.accepted:
            self.status, self.seq = status, seq
        elif not 200 <= status < 300 or seq != self.seq:
            self.otherwise = f"{self.status} with number {self.seq}, then {status} with {seq}"


@dataclass(frozen=True)
class Wait:
    """What must raise its alert if it is left for so long: from the receipt of `entry`, or from `at` where that counts.

    `cause` is the alert's own, `""` for any; `seconds` 0 is told with the entry. `ended` is the entry that answered it.
    """

    case: str
    kind: str
    cause: str
    entry: str
    seconds: float = 0
    at: datetime | None = None
    ended: list[str] = field(default_factory=list)


@dataclass
class Book:
    """All of a shift; appending to a list is safe from many threads."""

    sent: list[Sent] = field(default_factory=list)
    waits: list[Wait] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    done: list[str] = field(default_factory=list)  # the acts of the script that were played to their end
    moved: set[str] = field(
        default_factory=set
    )  # cases that the former crew reads no more, so that it is told of no version


class Sender:
    """Somebody with a token, who sends what got no answer again under the same id until it is answered."""

    def __init__(self, base: str, token: str, book: Book, name: str = "") -> None:
        self.link, self.book, self.name = Link(base, token), book, name

    def send(self, path: str, content: Mapping[str, Any] | None = None, method: str = "POST", **more: Any) -> Answer:
        """Send one write until it is answered; what is refused stands in the book as such."""
        whole = {"id": str(uuid4()), **(content or {}), **more}
        self.book.sent.append(sent := Sent(whole["id"], path, whole, self.link, method))
        answer = self._until_answered(method, path, whole, [sent])
        sent.answered(answer.status, answer.body.get("seq"))
        return answer

    def send_batch(self, entries: list[dict[str, Any]]) -> None:
        """Send entries together, all of them again until none has to wait."""
        sent = [Sent(each["id"], "batch/", each, self.link) for each in entries]
        self.book.sent += sent
        until = time.monotonic() + MOST_S
        while time.monotonic() < until:
            answer = self._until_answered("POST", "batch/", {"sent_at": stamp(now()), "entries": entries}, sent)
            results = answer.body.get("results") or [{"status": answer.status}] * len(sent)
            for each, result in zip(sent, results, strict=True):
                if not for_later(result["status"]):
                    each.answered(result["status"], result.get("seq"))
            if not any(for_later(result["status"]) for result in results):
                return
            time.sleep(PAUSE_S)
        self.book.faults.append(f"{self.name}: a batch was never taken")

    def read(self, path: str) -> dict[str, Any]:
        """What lies there, once it can be had."""
        return self._until_answered("GET", path, None, []).body

    def _until_answered(self, method: str, path: str, content: Any, sent: list[Sent]) -> Answer:
        answer = until_answered(self.link, method, path, content, sent)
        if not answer.status:
            self.book.faults.append(f"{self.name}: {method} {path} was never answered")
        return answer


def until_answered(link: Link, method: str, path: str, content: Any, sent: list[Sent]) -> Answer:
    """Send the same until it is answered, and count that as a try of what is sent; status 0 where it never is."""
    until = time.monotonic() + MOST_S
    while time.monotonic() < until:
        for each in sent:
            each.tries += 1
        try:
            return link.call(method, path, content)
        except NoAnswer as silence:
            time.sleep(max(PAUSE_S, silence.wait))
    return Answer(0, {})
