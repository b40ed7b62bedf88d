"""What one entry more costs after 10, 1,000 and 10,000 of its kind in one case: bytes of journal and of the case's row.

`.venv/bin/python -m tests.bench.growth` works in an SQLite file of its own; the milliseconds are this program's own
time, so a busy machine does not count. All of it to 10,000 takes hours: `--counts 10 1000`, `--only push vitals`.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from time import process_time
from typing import Any

from tests.bench.growing import ACTS, ENDING, Act

COUNTS = (10, 1_000, 10_000)
MEASURED = 10  # so many entries before a count are measured
EVERY_MIN = 2  # the least time between two push doses


@contextmanager
def board() -> Iterator[None]:
    """An empty database in a folder of its own, and Django set up on it."""
    with tempfile.TemporaryDirectory() as folder:
        here = {"DATABASE_URL": f"sqlite:///{Path(folder) / 'growth.sqlite3'}", "REDIS_URL": "", "SECRET_KEY": "growth"}
        os.environ |= {"DJANGO_SETTINGS_MODULE": "consult.settings", **here}
        import django
        from django.conf import settings
        from django.core.management import call_command

        settings.LOGGING["loggers"]["consult"]["level"] = "ERROR"  # without Redis each write would tell so
        django.setup()
        call_command("migrate", verbosity=0)
        yield


def grown(act: Act, cast: Any, counts: list[int]) -> Iterator[tuple[int, float, float, int]]:
    """At each count: bytes of journal and ms for one entry, bytes of the case's row."""
    from tests.conftest import later, open_consult

    consult, began, since = open_consult(cast), 0.0, 0
    for number in range(1, max(counts) + 1):
        if number + MEASURED - 1 in counts:
            began, since = process_time(), consult.row.seq
        act(consult, later(minutes=EVERY_MIN * number), number)
        if number in counts:
            took, row = process_time() - began, consult.row
            yield number, written(row, since) / MEASURED, 1000 * took / MEASURED, len(row.folded) + len(row.card)


def written(case: Any, since: int) -> float:
    """The bytes of a case's lines after one, each with its share of the whole card that some lines keep."""
    from consult.card_diff import WHOLE_EVERY
    from consult.models import JournalEntry

    lines = JournalEntry.objects.filter(case=case, seq__gt=since).values_list("seq", "data", "changes")
    parts = sum(len(data) + (len(changed) if seq % WHOLE_EVERY else 0) for seq, data, changed in lines)
    return parts + len(lines) * len(case.card) / WHOLE_EVERY


def main() -> None:
    """Print a row for each act and count; an act may be several entries, such as an order that is read back."""
    every = ACTS | ENDING
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--counts", type=int, nargs="+", default=list(COUNTS), help=f"each at least {MEASURED}")
    options.add_argument("--only", nargs="+", choices=sorted(every), default=list(every), metavar="ACT")
    chosen = options.parse_args()
    print(f"{'':<26}{'entries':>9}{'journal, bytes':>16}{'ms':>8}{'case row, bytes':>17}")
    with board():
        from tests.conftest import make_cast

        cast = make_cast()
        for name in chosen.only:
            for count, size, took, row in grown(every[name], cast, chosen.counts):
                print(f"{name:<26}{count:>9,}{size:>16,.0f}{took:>8.1f}{row:>17,}", flush=True)


if __name__ == "__main__":
    main()
