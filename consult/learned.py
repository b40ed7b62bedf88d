"""msgspec learns a structure when it first reads into it, and two threads that meet one for the first time at once end
the whole process by signal 11. So each process that has threads lets it learn all of them before they begin.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
from msgspec import Struct

known: set[type[Struct]] = set()


def learn() -> None:
    """Let msgspec learn each structure of the modules that are loaded by now; what it knows costs nothing."""
    for each in _below(Struct):
        msgspec.json.Decoder(each)
        known.add(each)


def _below(structure: type[Struct]) -> Iterator[type[Struct]]:
    for each in structure.__subclasses__():
        yield each
        yield from _below(each)
