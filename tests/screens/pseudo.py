"""A pseudo-language: each text of the catalogue in brackets and with accents, so that what is not in it shows."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from consult.management import catalogue
from consult.management.texts import Text

# What a text leaves to others: values that are filled in, and marks of HTML.
LEFT = re.compile(r"(%\(\w+\)s|\{[\w!:.]*\}|<[^>]*>|&\w+;|%%)")
ACCENTS = str.maketrans("aeiouAEIOU", "áéíöúÁÉÍÖÚ")
MARKED = re.compile("⟦[^⟦⟧]*⟧")


def pseudo(text: str) -> str:
    """``⟦Öpénéd ⟧%(time)s``."""
    parts = LEFT.split(text)
    return "".join(
        part if number % 2 or not re.search("[A-Za-z]", part) else f"⟦{part.translate(ACCENTS)}⟧"
        for number, part in enumerate(parts)
    )


def write(folder: Path, texts: Mapping[Text, list[str]]) -> None:
    """A catalogue in which every text is said so."""
    said = catalogue.Catalogue({text: tuple(map(pseudo, text)) for text in texts})
    (folder / "en/LC_MESSAGES").mkdir(parents=True)
    (folder / "en/LC_MESSAGES/django.po").write_text(catalogue.written(texts, said), encoding="utf-8")
    assert catalogue.store(folder / "en/LC_MESSAGES", texts) == []


def bare(text: str) -> str:
    """What of a text is in no brackets; one that was cut off lacks the last."""
    while text != (text := MARKED.sub(" ", text)):
        pass
    return re.sub("⟦[^⟧]*$", " ", text)
