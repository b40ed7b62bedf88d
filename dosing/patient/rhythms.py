"""Which rhythm a free text names; the words stand in ``rhythms.toml``."""

from __future__ import annotations

import re

from dosing.ground.tables import load

_VT = load("patient/rhythms")["ventricular_tachycardia"]
_PHRASES = [phrase.split() for phrase in _VT["phrases"]]


def is_ventricular_tachycardia(rhythm: str) -> bool:
    """Whether the text names ventricular tachycardia and does not deny it: ``VT``, ``v-tach``, never ``SVT``."""
    words = re.findall(r"[a-z]+", rhythm.casefold())
    return any(_said(words, place, phrase) for phrase in _PHRASES for place in range(len(words)))


def _said(words: list[str], place: int, phrase: list[str]) -> bool:
    before = words[max(0, place - _VT["denied_within_words"]) : place]
    return words[place : place + len(phrase)] == phrase and not set(before) & set(_VT["denied_by"])
