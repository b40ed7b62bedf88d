"""The airway: whether the patient breathes through a tube, or is held open by hand and mask alone."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime
from functools import cache, lru_cache

from msgspec import Struct

from dosing.ground.kinds import Id, Time
from dosing.ground.tables import load

_APART = re.compile(r"[,;+\n]| - |\b(?:then|but|now)\b")
_WORDS = re.compile(r"[a-z]+|\?")


class Airway(Struct, frozen=True, kw_only=True):
    """An airway that was tried or is in place: ``site`` says which, in free words, ``outcome`` what came of it."""

    id: Id
    at: Time
    site: str | None = None
    outcome: str | None = None


def airway_secured(known: Iterable[Airway], at: datetime) -> bool | None:
    """Whether a tube or a supraglottic airway was in place at that moment; None where it is not told which airway was.

    The newest entry decides. So a bag and mask that is recorded after a tube says that the tube is out, and one that
    failed after it leaves open what is in place. What is only done beside a tube, as suction, leaves it there.
    """
    secured: bool | None = False
    for each in sorted((each for each in known if each.at <= at), key=lambda each: each.at):
        if each.outcome == "done":
            secured = True if secured and _leaves(each.site or "") else _secures(each.site or "")
        elif secured:
            secured = None
    return secured


@lru_cache(maxsize=1024)
def _secures(site: str) -> bool | None:
    """Whether the words name what secures an airway; None where nobody can tell, as after a tube that failed."""
    parts = _parts(site)
    short_is_one = not any(_says("open", "elsewhere").search(part) for part in parts)
    secured, undone = None, False
    for part in parts:
        if _says("undone").search(_says("undone", "harmless").sub("", part)):
            secured, undone = False, True
        elif _is_told(part, short_is_one=short_is_one):
            secured = None if undone else True
        elif secured is None and not undone and _is_open(part):
            secured = False
    return secured


@lru_cache(maxsize=1024)
def _leaves(site: str) -> bool:
    """Whether the words leave a tube in place: they name no other, no breathing without it, and undo nothing."""
    parts = [_says("undone", "harmless").sub("", part) for part in _parts(site)]
    against = [_says("undone"), _says("secured"), _says("open", "instead")]
    if not any(_says("open", "elsewhere").search(part) for part in parts):
        against.append(_says("short"))
    return not any(each.search(part) for each in against for part in parts)


def _parts(site: str) -> list[str]:
    """What was said, each part by itself, in small words."""
    words = site.casefold().replace("\u2019", "'").replace("n't", " not")
    return [" ".join(_WORDS.findall(part)) for part in _APART.split(words)]


def _is_told(part: str, *, short_is_one: bool) -> bool:
    """Whether a name stands there, or a short one where it may, and nothing that could make another thing of it."""
    short = load("ground/airways")["short"]
    rest, names = _says("secured").subn("", _says("undone", "harmless").sub("", part))
    words = set(rest.split())
    named = names > 0 or (short_is_one and not words.isdisjoint(short["names"]))
    return named and words <= {*short["names"], *short["beside"]}


def _is_open(part: str) -> bool:
    """Whether a bag, a mask, what only holds the tongue off, or a tube that lies elsewhere is named."""
    return any(_says("open", names).search(part) for names in ("names", "elsewhere"))


@cache
def _says(kind: str, names: str = "names") -> re.Pattern[str]:
    """One of the names of a kind, as whole words."""
    either = "|".join(map(re.escape, sorted(load("ground/airways")[kind][names], key=len, reverse=True)))
    return re.compile(rf"(?<![a-z])(?:{either})(?![a-z])")
