"""The words that the code itself says, in the one language of the installation: English as it is written here, or as a
catalogue has it (`consult/locale`). The settings take that up before anything else is imported, so that a text may also
stand at the top of a module."""

from __future__ import annotations

import gettext as catalogues
from collections.abc import Iterable
from pathlib import Path

_catalogue = catalogues.NullTranslations()


def take_up(language: str, folders: Iterable[Path]) -> None:
    """Say all texts from now on as the first of these folders that has a catalogue of this language has them."""
    global _catalogue  # noqa: PLW0603  one language for the process
    found = (catalogues.find("django", folder, [language]) for folder in folders)
    if file := next(filter(None, found), None):
        with Path(file).open("rb") as opened:
            _catalogue = catalogues.GNUTranslations(opened)
    else:
        _catalogue = catalogues.NullTranslations()


def gettext(text: str, /, **values: object) -> str:
    """The text as this installation says it, with the values at its places: ``gettext("due {time}", time="12:04")``."""
    said = _catalogue.gettext(text)
    return said.format(**values) if values else said


def ngettext(one: str, many: str, count: int, /, **values: object) -> str:
    """The same of something counted; ``{count}`` in the text is how many."""
    return _catalogue.ngettext(one, many, count).format(count=count, **values)


def words(code: object) -> str:
    """A code of the API as people read it, ``heart failure`` for ``heart_failure``: `codes.py` names them all."""
    text = str(code).replace("_", " ")
    return _catalogue.gettext(text) if text else ""
