"""How much memory `serve` takes that nobody uses, on the embedded default: PSS by process, in MB.

`.venv/bin/python -m tests.bench.idle` needs neither database nor Redis. A page that processes share counts once.
What only the tests install is kept from it: the unit library loads more where it finds more.
"""

from __future__ import annotations

import argparse
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from tests import as_installed
from tests.bench import places

NOT_INHERITED = ("DATABASE_URL", "REDIS_URL", "DATABASE_POOL")
TOLD = b"Consult board at"


def tree(pid: int) -> Iterator[int]:
    """A process and all that it started."""
    yield pid
    for children in Path(f"/proc/{pid}/task").glob("*/children"):
        for child in children.read_text().split():
            yield from tree(int(child))


def pss_mb(pid: int) -> float:
    """The memory of one process, what it shares divided by those that share it."""
    lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    return sum(int(line.split()[1]) for line in lines if line.startswith("Pss:")) / 1024


def name_of(pid: int) -> str:
    """The words that tell which process it is."""
    words = Path(f"/proc/{pid}/cmdline").read_text().split("\0")
    return " ".join(words[1:4] if "python" in words[0] else [Path(f"/proc/{pid}/comm").read_text().strip()])


def main() -> None:
    """Start `serve`, wait, and print each process and the sum."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seconds", type=int, default=20, help="how long it stands before it is measured")
    wait_s = options.parse_args().seconds
    with tempfile.TemporaryDirectory() as folder:
        settings = {name: value for name, value in os.environ.items() if name not in NOT_INHERITED}
        settings["PYTHONPATH"] = as_installed.python_path(Path(folder))
        settings["DATABASE_URL"] = f"sqlite:///{folder}/board.sqlite3"
        words = [sys.executable, "manage.py", "serve", "--port", str(places.free_port())]
        serve = subprocess.Popen(words, env=settings, stdout=subprocess.PIPE)
        try:
            assert serve.stdout is not None
            if not any(line.startswith(TOLD) for line in serve.stdout):
                raise RuntimeError("serve ended before it answered")
            time.sleep(wait_s)
            found = {pid: pss_mb(pid) for pid in tree(serve.pid)}
            for pid, size in found.items():
                print(f"{name_of(pid):<60}{size:>8.1f}")
            print(f"{'all':<60}{sum(found.values()):>8.1f}")
        finally:
            serve.send_signal(signal.SIGTERM)
            serve.wait(20)


if __name__ == "__main__":
    main()
