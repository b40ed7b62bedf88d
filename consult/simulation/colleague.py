"""The second physician of a demonstration: takes control of what nobody has taken, and once offers some of it on."""

from __future__ import annotations

import json
import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event
from time import monotonic

from consult.simulation.link import Link, NoAnswer

log = logging.getLogger(__name__)
LOOKS_S = 5.0
TAKES_AFTER_S = 75.0  # before the alert that nobody has control
OFFERS_AFTER_S = 120.0
OFFERED = 2  # cases
NOTE = "My shift ends. Call me on the dedicated line until the half hour."


@dataclass(frozen=True, slots=True)
class Account:
    """By which token the colleague works, and the user name of whom they hand over to."""

    token: str
    to: str


def read_account(path: str) -> Account | None:
    """The account in a file that only its owner may read; None where none is named."""
    return Account(**json.loads(Path(path).read_text(encoding="utf-8"))) if path else None


@dataclass
class Colleague:
    """What the second physician does; the case of the unit `left` waits for whoever tries the demonstration."""

    link: Link
    to: str
    left: str
    clock: Callable[[], float] = monotonic
    seen: dict[str, float] = field(default_factory=dict)
    mine: list[str] = field(default_factory=list)
    done: set[str] = field(default_factory=set)
    offered: bool = False

    def __post_init__(self) -> None:
        self.start = self.clock()

    def tick(self) -> None:
        """Look at the open cases, take what has waited, hand on once."""
        page = self.link.read("cases/?state=open")
        for case in page["results"] if page else ():
            if case["unit"]["call_sign"] != self.left:
                self._consider(str(case["id"]))
        if self.mine and not self.offered and self.clock() - self.start >= OFFERS_AFTER_S:
            self.offered = True
            wanted = {"to": self.to, "cases": self.mine[:OFFERED], "note": NOTE}
            if self.link.call("POST", "handovers/", wanted).accepted:
                log.info("the second physician offers %s a shift handover", self.to)

    def _consider(self, case: str) -> None:
        since = self.seen.setdefault(case, self.clock())
        if case in self.done or self.clock() - since < TAKES_AFTER_S:
            return
        if self.link.call("POST", f"cases/{case}/accept/", {}).accepted:
            self.mine.append(case)
        self.done.add(case)  # what somebody else has is theirs


def live(colleague: Colleague, stop: Event) -> None:
    """Go on until told to stop; no answer is tried again."""
    while not stop.wait(LOOKS_S):
        try:
            colleague.tick()
        except NoAnswer as fault:
            log.debug("the second physician waits: %s", fault)
    colleague.link.close()
