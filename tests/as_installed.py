"""A program that a test starts sees what `requirements.lock` installs, and nothing that only the tests bring along."""

from __future__ import annotations

import re
from functools import cache
from importlib.metadata import packages_distributions
from pathlib import Path

LOCK = Path(__file__).resolve().parents[1] / "requirements.lock"
# Python reads a file of this name at its start.
FILE = "sitecustomize.py"
TEXT = """import sys


class Absent:
    def find_spec(self, name, path=None, target=None):
        if name in ABSENT:
            raise ModuleNotFoundError(f"No module named {{name!r}}: requirements.lock does not hold it", name=name)


ABSENT = {absent!r}
sys.meta_path.insert(0, Absent())
"""


@cache
def absent() -> frozenset[str]:
    """The modules of this environment that the lock does not hold."""
    held = {_plain(line.partition("==")[0]) for line in LOCK.read_text().splitlines() if re.match(r"[^\s#]+==", line)}
    return frozenset(name for name, by in packages_distributions().items() if not held & {_plain(each) for each in by})


def python_path(folder: Path) -> str:
    """Make a folder in this one; with it as its ``PYTHONPATH`` a program finds no more than the lock holds."""
    place = folder / "as_installed"
    place.mkdir(exist_ok=True)
    (place / FILE).write_text(TEXT.format(absent=set(absent())))
    return str(place)


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()
