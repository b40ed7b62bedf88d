"""What ends by itself is started again, each time after a longer wait; what is not well yet is told."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from consult import owner_only

# Of our choice. After the first wait a port or a lock is free again; the longest lets nobody wait for minutes once what
# was lacking is back. What has stood a minute is well, and waits but shortly the next time.
FIRST_WAIT_S, LONGEST_WAIT_S, WELL_AFTER_S = 1.0, 30.0, 60.0


@dataclass
class Life:
    """Since when a process runs, how often it has ended lately, and when it is started again: None while it runs."""

    since: float
    ends: int = 0
    how: str = ""
    again_at: float | None = None

    def ended(self, how: str, now: float) -> float:
        """Note that it has ended by itself, `how` in words; the seconds until it is started again."""
        self.ends = 1 if self.well(now) else self.ends + 1
        wait = min(FIRST_WAIT_S * 2.0 ** (self.ends - 1), LONGEST_WAIT_S)
        self.how, self.again_at = how, now + wait
        return wait

    def started(self, now: float) -> None:
        """Note that it was started again."""
        self.since, self.again_at = now, None

    def well(self, now: float) -> bool:
        """Whether it runs, and has for a while or since the beginning."""
        return self.again_at is None and (not self.ends or now - self.since >= WELL_AFTER_S)

    def told(self) -> str:
        """For /readyz and the terminal: how it ended, how often, and whether it runs."""
        times = f", {self.ends} times" if self.ends > 1 else ""
        return f"ended by itself ({self.how}){times}, {'runs' if self.again_at is None else 'not started'} again"


@dataclass
class Book:
    """What is not well, in a file that the web process reads: it may itself be what is started again."""

    file: Path
    written: dict[str, str] = field(default_factory=dict)

    def write(self, lives: Iterable[tuple[str, Life]], now: float) -> None:
        """Write down which processes are not well, where that has changed."""
        told = {name: life.told() for name, life in lives if not life.well(now)}
        if told != self.written or not self.file.exists():
            draft = self.file.with_suffix(".draft")
            draft.unlink(missing_ok=True)
            owner_only.make(draft, json.dumps(told))
            draft.replace(self.file)
            self.written = told


def read(file: str) -> dict[str, str]:
    """What the processes of this board lack, by name; nothing where nobody keeps such a book."""
    told: dict[str, str] = json.loads(Path(file).read_text()) if file and Path(file).exists() else {}
    return told
