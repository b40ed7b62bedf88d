"""A scripted shift under kills, on the processes of docker-compose.yml with a PostgreSQL and a Redis of its own.

``python -m tests.faults.shift --kills 50 --transports 12 --seed 1`` kills web, worker, Redis and database so often each
while crews and physicians post, and says what was lost, doubled or missed, and how late alerts came. Exit code 1 if
anything was. A kill by SIGKILL takes no written page from the disk's cache: it stands for a dead process, not for a
power cut. Waiting times are those of `short_times.toml`, for no time can be handed to other processes.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from statistics import median

from tests.faults.book import Book, Sender, now
from tests.faults.reckoning import Result, Span, reckon, told
from tests.faults.transports import ALWAYS, PLANS, Transport, silent
from tests.faults.whole_board import VICTIMS, WholeBoard

DOWN_S = {"web": 2.0, "worker": 7.0, "redis": 5.0, "database": 2.0}  # at most, until it is started again
PAUSE_S = (0.5, 2.5)
FEW = 10  # kills of each, below which nothing waits for half a minute


@dataclass
class Shift:
    """What is to be done, and what came of it."""

    kills: int
    transports: int = 12
    seed: int = 1
    healthy_s: float = 60.0
    struck: Counter[str] = field(default_factory=Counter)
    spans: list[Span] = field(default_factory=list)
    back_s: dict[str, float] = field(default_factory=dict)
    loads: list[float] = field(default_factory=list)
    book: Book = field(default_factory=Book)

    def run(self, folder: Path) -> Result:
        """Play it to its end."""
        chance, over = Random(self.seed), threading.Event()
        with WholeBoard(folder, self.transports) as board:
            threads = [each.thread() for each in self._crews(board, chance, over)]
            for thread in threads:
                thread.start()
            try:
                self._strike(board, Random(f"kills {self.seed}"))
            except AssertionError as fault:  # not back in time: what has happened by then is told all the same
                self.book.faults.append(str(fault))
            finally:
                over.set()
            for thread in threads:
                thread.join(150)
            self.book.faults += [f"{each.name} does not end" for each in threads if each.is_alive()]
            self.book.faults += board.faults()
            found = reckon(board.database.url, self.book, self.spans, chance)
            if "The journal is intact." not in (said := _verified(board)):
                found.faults.append(said)
        return found

    def _crews(self, board: WholeBoard, chance: Random, over: threading.Event) -> list[Transport]:
        people, book = board.people, self.book
        crews = [Sender(board.base, each["token"], book, each["call_sign"]) for each in people["devices"]]
        made = []
        for number, crew in enumerate(crews):
            physicians = [
                Sender(board.base, people[who]["token"], book, people[who]["username"])
                for who in ("physician", "physician2")
            ]
            acts = [act for act in (*ALWAYS, *PLANS[number % len(PLANS)]) if act is not silent or self.kills >= FEW]
            other = Sender(board.base, people["devices"][number - 1]["token"], book, crews[number - 1].name)
            unit = people["devices"][number - 1]["unit_id"]
            own = Random(f"{self.seed} {number}")
            made.append(
                Transport(number, crew, other, unit, (physicians[0], physicians[1]), book, own, over, acts=acts)
            )
        return made

    def _strike(self, board: WholeBoard, chance: Random) -> None:
        """Let it run well for a while, then kill one after the other in an order and at moments of the seed's."""
        time.sleep(self.healthy_s)
        victims = [victim for victim in VICTIMS for _ in range(self.kills)]
        chance.shuffle(victims)
        for victim in victims:
            time.sleep(chance.uniform(*PAUSE_S) if self.kills >= FEW else 0.3)
            down = chance.uniform(0, DOWN_S[victim]) if self.kills >= FEW else 0.2
            span = board.strike(victim, chance, down)
            self.spans.append(span)
            self.struck[victim] += 1
            self.loads.append(os.getloadavg()[0])
            self.back_s[victim] = max(self.back_s.get(victim, 0), (span[1] - span[0]).total_seconds())


def _verified(board: WholeBoard) -> str:
    """What is said of journals, seals, states, cards and rows."""
    try:
        return board.manage("verify_journal", "--states", within_s=600)
    except subprocess.CalledProcessError as refused:
        return str(refused.stderr)


def main() -> int:
    """Run a shift and print what came of it."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    words.add_argument("--kills", type=int, default=50, help="of web, worker, Redis and database each")
    words.add_argument("--transports", type=int, default=12)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--healthy", type=float, default=60.0, help="seconds without a kill before the first")
    asked = words.parse_args()
    folder, began = Path(tempfile.mkdtemp(prefix="consult-shift-")), now()
    shift = Shift(asked.kills, asked.transports, asked.seed, asked.healthy)
    print(f"logs in {folder}", flush=True)
    found = shift.run(folder)
    print(f"seed                  {shift.seed}, {shift.transports} transports, {(now() - began).total_seconds():.0f} s")
    print(
        f"machine               {os.cpu_count()} cores, load {median(shift.loads):.1f} ({max(shift.loads):.1f} at most)"
    )
    for victim in VICTIMS:
        times, longest = shift.struck[victim], shift.back_s.get(victim, 0)
        print(f"killed                {victim} {times} times, all well again after {longest:.1f} s at most")
    print("\n".join(told(found)))
    print("acts                  " + ", ".join(f"{name} {count}" for name, count in Counter(shift.book.done).items()))
    wrong = [*found.faults, *found.late]
    print("\n".join(wrong[:50]) or "no fault")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
