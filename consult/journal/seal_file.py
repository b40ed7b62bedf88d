"""The seals file: signed lines, numbered, each covering the one before, so that none can be taken out or exchanged.

A line is Django's signature over compressed JSON: ``{"line", "before", "at", "heads": [[agency, case, seq, head], …]}``
with `before` the SHA-256 of the line before it (hex; empty for the first) and no `case` for an agency's own journal.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import msgspec
from django.conf import settings
from django.core import signing

from consult.clock import stamp

SALT = "consult.seals"
Heads = list[tuple[str, str | None, int, str]]  # agency, case, seq, digest


class Place(msgspec.Struct, frozen=True):
    """How far the file goes, or was read: its number of lines, their bytes, the digest of the last of them."""

    lines: int = 0
    size: int = 0
    digest: str = ""


class Seal(msgspec.Struct):
    """What one line says."""

    line: int
    before: str
    at: str
    heads: Heads


class Spoilt(Exception):
    """The file is not as it was written, from this line on."""

    def __init__(self, line: int, what: str) -> None:
        super().__init__(line, what)
        self.line, self.what = line, what


def path() -> Path:
    """Where it is: for every process the same file (setting `SEALS_FILE`)."""
    found: Path = settings.SEALS_FILE
    return found


def size() -> int:
    """How many bytes it holds, 0 where it is not there."""
    return path().stat().st_size if path().exists() else 0


def read_on(place: Place) -> Iterator[tuple[Place, Heads]]:
    """Each line after a place, with the place after it; raises Spoilt. A line that is still being written is left."""
    if not path().exists():
        return
    with path().open("rb") as lines:
        lines.seek(place.size)
        for written in lines:
            if not written.endswith(b"\n"):
                return
            seal = _seal(written, place)
            digest = hashlib.sha256(written.rstrip(b"\n")).hexdigest()
            place = Place(place.lines + 1, place.size + len(written), digest)
            yield place, seal.heads


def _seal(written: bytes, before: Place) -> Seal:
    number = before.lines + 1
    try:
        seal = msgspec.convert(signing.loads(written.decode("ascii").rstrip("\n"), salt=SALT), Seal)
    except signing.BadSignature:
        raise Spoilt(number, "the line was not signed by this board") from None
    except (ValueError, msgspec.MsgspecError):
        raise Spoilt(number, "the line cannot be read") from None
    if (seal.line, seal.before) != (number, before.digest):
        raise Spoilt(number, "the line does not follow the one before it")
    return seal


def append(place: Place, heads: Heads, now: datetime) -> Place:
    """Write one line after a place, or after those that were written since; the place after it, once it is on disk.

    Where lines are missing the new one does not follow, so that their absence stays known.
    """
    place = _end(place)
    seal = Seal(place.lines + 1, place.digest, stamp(now), heads)
    line = signing.dumps(msgspec.to_builtins(seal), salt=SALT, compress=True).encode("ascii")
    path().parent.mkdir(parents=True, exist_ok=True)
    with path().open("ab") as out:
        out.write(line + b"\n")
        out.flush()
        os.fsync(out.fileno())
        return Place(seal.line, out.tell(), hashlib.sha256(line).hexdigest())


def _end(place: Place) -> Place:
    """The last whole line: a process may have died after it wrote one, or while it did, and before that was known."""
    try:
        for reached, _ in read_on(place):
            place = reached
    except Spoilt:
        return place
    if size() > place.size:
        os.truncate(path(), place.size)
    return place
