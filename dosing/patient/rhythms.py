"""Which rhythm a free text names; the words stand in ``rhythms.toml``."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache, lru_cache

from dosing.ground.tables import load

_WORDS = re.compile(r"[a-z]+\*?|[0-9]+(?:\.[0-9]+)?|,")
_SECONDS_BELOW = 10  # an interval of so few is told in s


def is_ventricular_tachycardia(rhythm: str) -> bool:
    """Whether the text names ventricular tachycardia and does not deny it: ``VT``, ``v-tach``, never ``SVT``."""
    return named(rhythm, "ventricular_tachycardia")


@lru_cache(maxsize=4096)
def named(rhythm: str, kind: str) -> bool:
    """Whether the text names a rhythm of this kind (a table of ``rhythms.toml``) and does not deny it."""
    words, table = _spaced(rhythm), load("patient/rhythms")[kind]
    return _said(words, kind) or _measured(words, kind) or any(_all(rhythm, each) for each in table.get("together", ()))


def _all(rhythm: str, kinds: Iterable[str]) -> bool:
    """Whether all of the kinds are named; one with ``not`` before it must not be."""
    return all(named(rhythm, kind.removeprefix("not ")) != kind.startswith("not ") for kind in kinds)


def _said(words: str, kind: str) -> bool:
    said, others = _patterns(kind)
    found = said.finditer(words)
    return any(not (each["before"] or each["after"] or others.fullmatch(each["said"])) for each in found)


@cache
def _patterns(kind: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    """A phrase of the kind, or of what holds one and means another, with what denies it; and the latter alone."""
    table, denied = load("patient/rhythms")[kind], load("patient/rhythms")["denied"]
    others = table.get("others", [])
    before = f"(?:{'|'.join(denied['by'])}) (?:(?:{'|'.join(denied['past'])}) )*"
    said = rf"\b(?P<before>{before})?(?P<said>{_any_of([*table['phrases'], *others])})\b"
    return re.compile(rf"{said}(?P<after> (?:{'|'.join(denied['after'])})\b)?"), re.compile(_any_of(others))


def _any_of(phrases: Iterable[str]) -> str:
    """A pattern for one of them, the longest first, with or without commas between its words; for none of none."""
    longest_first = sorted(map(_spaced, phrases), key=len, reverse=True)
    return "|".join(each.replace("*", "[a-z]*").replace(" ", " (?:, )?") for each in longest_first) or "(?!)"


def _measured(words: str, kind: str) -> bool:
    """Whether a number of those after a word says it: of ``QT/QTc 400/520`` the largest."""
    told = load("patient/rhythms")[kind].get("measured")
    if told is None:
        return False
    pattern = rf"\b(?:{'|'.join(told['after'])}) (?:(?:{'|'.join(told['past'])}) )*((?:[0-9.]+ ?)+)"
    numbers = (float(each) for run in re.findall(pattern, words) for each in run.split())
    return any(each * (1000 if each < _SECONDS_BELOW else 1) >= told["at_least"] for each in numbers)


@lru_cache(maxsize=1024)
def _spaced(text: str) -> str:
    """A text as small words and its commas between blanks, shortened ones written out; ``1°`` as ``first degree``."""
    for sign, word in (("°", " degree "), (";", ","), ("<", " under ")):
        text = text.replace(sign, word)
    words = " ".join(_WORDS.findall(text.casefold()))
    for short, meant in _meant():
        words = short.sub(meant, words)
    return " ".join(words.split())


@cache
def _meant() -> tuple[tuple[re.Pattern[str], str], ...]:
    """Each shortened or misspelt word with what it is written out as, in the order of the file."""
    words = load("patient/rhythms")["meant"]["words"]
    return tuple((re.compile(rf"\b{short}\b"), meant) for short, meant in words.items())
