"""Looks for error-prone notations in what people read; the list: ``reference/error_prone_notations.toml``."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from tests.screens.page_text import Element, read

LIST = tomllib.loads((Path(__file__).parent / "reference/error_prone_notations.toml").read_text("utf-8"))
NOTATIONS = LIST["notation"]
ANY = re.compile("|".join(f"(?:{notation['finds']})" for notation in NOTATIONS))  # most texts hold none
SEEN_ATTRIBUTES = ("title", "aria-label", "placeholder", "alt", "data-ready")
UNSEEN_ELEMENTS = {"script", "style", "template"}
# What programs read: codes that the contract fixes, and what is no text at all.
CODES = {
    "unit",
    "route",
    "routes",
    "digest",
    "id",
    "kind",
    "type",
    "treatment",
    "drug_class",
    "names",  # as people type them: known there so that they need not be written
    "form",
    "pointer",
    "code",
}
ID = re.compile(r"[0-9a-f-]{32,64}|\d{4}-\d\d-\d\dT[\d:.]+(?:Z|[+-]\d\d:\d\d)")  # ids, digests and times


@dataclass(frozen=True)
class Found:
    """One error-prone notation: which one, and where."""

    notation: str
    text: str

    def __str__(self) -> str:
        return f"{self.notation}: {self.text!r}"


@cache
def find(text: str) -> tuple[Found, ...]:
    """Each error-prone notation in a text, with a few words around it."""
    if not ANY.search(text):
        return ()
    return tuple(
        Found(notation["name"], text[max(0, match.start() - 30) : match.end() + 30])
        for notation in NOTATIONS
        for match in re.finditer(notation["finds"], text)
    )


def said(answer: Any) -> Iterator[str]:
    """Every text in an answer of the API that a person may be shown."""
    if isinstance(answer, str):
        if not ID.fullmatch(answer):
            yield answer
    elif isinstance(answer, Mapping):
        for key, value in answer.items():
            if key not in CODES:
                yield from said(value)
    elif isinstance(answer, list | tuple):
        for value in answer:
            yield from said(value)


def seen(html: str) -> Iterator[str]:
    """Every text of a page that a person sees or hears read out, in no order."""
    left: list[Element] = [read(html)]
    while left:
        element = left.pop()
        if element.name in UNSEEN_ELEMENTS:
            continue
        yield from (value for name in SEEN_ATTRIBUTES if (value := element.attributes.get(name)))
        words = [child for child in element.children if isinstance(child, str)]
        if words:
            yield " ".join(" ".join(words).split())
        left += [child for child in element.children if isinstance(child, Element)]
