"""The second physician of a demonstration: takes what asks for nothing, and once offers some of it on.

Cases that ask for a decision are left to whoever tries the demonstration, and taken late; the first never. Once a
person works by the same account, it does nothing more.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import inf
from pathlib import Path
from threading import Event
from time import monotonic

from consult.simulation.link import Link, NoAnswer
from consult.simulation.scenario import Scenario

log = logging.getLogger(__name__)
LOOKS_S = 5.0
TAKES_AFTER_S = 75.0  # before the alert that nobody has control
TAKES_LATE_S = 900.0
OFFERS_AFTER_S = 120.0
OFFERED = 2  # cases
NOTE = "My shift ends. Call me on the dedicated line until the half hour."


@dataclass(frozen=True, slots=True)
class Account:
    """By which user name and token the colleague works, and the user name of whom they hand over to."""

    username: str
    token: str
    to: str


def read_account(path: str) -> Account | None:
    """The account in a file that only its owner may read; None where none is named."""
    return Account(**json.loads(Path(path).read_text(encoding="utf-8"))) if path else None


@dataclass
class Colleague:
    """What the second physician does; `waits` says of some units, by call sign, after how many seconds instead.

    `person` says whether somebody works by the same account by now.
    """

    link: Link
    to: str
    waits: Mapping[str, float]
    person: Callable[[], bool]
    clock: Callable[[], float] = monotonic
    seen: dict[str, float] = field(default_factory=dict)
    mine: list[str] = field(default_factory=list)
    done: set[str] = field(default_factory=set)
    offered: bool = False
    stood_back: bool = False

    def __post_init__(self) -> None:
        self.start = self.clock()

    def tick(self) -> None:
        """Look at the open cases, take what has waited, hand on once; nothing once a person works by the account."""
        if self.stood_back or self.person():
            self.stood_back = True
            return
        page = self.link.read("cases/?state=open")
        for case in page["results"] if page else ():
            self._consider(str(case["id"]), self.waits.get(case["unit"]["call_sign"], TAKES_AFTER_S))
        if self.mine and not self.offered and self.clock() - self.start >= OFFERS_AFTER_S:
            self.offered = True
            wanted = {"to": self.to, "cases": self.mine[:OFFERED], "note": NOTE}
            if self.link.call("POST", "handovers/", wanted).accepted:
                log.info("the second physician offers %s a shift handover", self.to)

    def _consider(self, case: str, after: float) -> None:
        since = self.seen.setdefault(case, self.clock())
        if case in self.done or self.clock() - since < after:
            return
        if self.link.call("POST", f"cases/{case}/accept/", {}).accepted:
            self.mine.append(case)
        self.done.add(case)  # what somebody else has is theirs


def waits_for(scenarios: Sequence[Scenario]) -> dict[str, float]:
    """How long the cases wait in which somebody is asked; the first for ever."""
    asking = [each.call_sign for each in scenarios if any(step.act in ("request", "ask") for step in each.steps)]
    return {**dict.fromkeys(asking, TAKES_LATE_S), scenarios[0].call_sign: inf}


def live(colleague: Colleague, stop: Event) -> None:
    """Go on until told to stop; no answer is tried again."""
    while not stop.wait(LOOKS_S):
        try:
            colleague.tick()
        except NoAnswer as fault:
            log.debug("the second physician waits: %s", fault)
    colleague.link.close()
