"""Which rhythm a free text names; the words stand in ``rhythms.toml``."""

from __future__ import annotations

import re
from functools import cache, lru_cache

from dosing.ground.tables import load

_WORDS = re.compile(r"[a-z]+|[0-9]+|,")


def is_ventricular_tachycardia(rhythm: str) -> bool:
    """Whether the text names ventricular tachycardia and does not deny it: ``VT``, ``v-tach``, never ``SVT``."""
    return named(rhythm, "ventricular_tachycardia")


@lru_cache(maxsize=1024)
def named(rhythm: str, kind: str) -> bool:
    """Whether the text names a rhythm of this kind (one of ``words.RHYTHMS``) and does not deny it."""
    phrases = {_spaced(each) for each in load("patient/rhythms")[kind]["phrases"]}
    found = _pattern(kind).finditer(_spaced(rhythm))
    return any(not each["denied"] and each["said"].replace(", ", "") in phrases for each in found)


@cache
def _pattern(kind: str) -> re.Pattern[str]:
    """A phrase of the kind, or of another rhythm that holds one of these, with what denies it right before it."""
    table, denied = load("patient/rhythms")[kind], load("patient/rhythms")["denied"]
    longest_first = sorted(map(_spaced, [*table["phrases"], *table.get("others", [])]), key=len, reverse=True)
    said = "|".join(each.replace(" ", " (?:, )?") for each in longest_first)
    no = f"(?:{'|'.join(denied['by'])}) (?:(?:{'|'.join(denied['past'])}) )*"
    return re.compile(rf"\b(?P<denied>{no})?(?P<said>{said})\b")


def _spaced(text: str) -> str:
    """A text as small words and its commas between blanks; ``1st`` and ``1°`` as ``1 st`` and ``1 degree``."""
    return " ".join(_WORDS.findall(text.casefold().replace("°", " degree ").replace(";", ",")))
