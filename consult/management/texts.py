"""Finds the texts of the code's own: what `_`, `gettext` and `ngettext` are called with in Python and scripts, and what
Django's tags for it hold in templates."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from django.utils.translation.template import templatize

# One text, or how one and how many are told.
Text = tuple[str, ...]

FOLDERS = ("dosing", "consult", "api", "templates")
ONE, COUNTED = {"_", "gettext"}, {"ngettext"}
_LITERAL = r"""u?(?P<{}>'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")"""
_IN_TEMPLATE = re.compile(rf"(?:\bgettext|\b_)\({_LITERAL.format('one')}\)")
_COUNTED_IN_TEMPLATE = re.compile(rf"\bngettext\({_LITERAL.format('one')},\s*{_LITERAL.format('many')}")
_IN_SCRIPT = re.compile(rf"(?<![\w.])_\(\s*{_LITERAL.format('one')}")
_COUNTED_IN_SCRIPT = re.compile(rf"(?<![\w.])ngettext\(\s*{_LITERAL.format('one')},\s*{_LITERAL.format('many')}")


def found(project: Path) -> dict[Text, list[str]]:
    """Every text, with the files that say it, by their names within the project; in the order of the files."""
    texts: dict[Text, list[str]] = {}
    for file in sorted(file for folder in FOLDERS for file in (project / folder).rglob("*")):
        name = file.relative_to(project).as_posix()
        if (reader := READERS.get(file.suffix)) and "/management/" not in name:
            for text in reader(file.read_text(encoding="utf-8")):
                places = texts.setdefault(text, [])
                if name not in places:
                    places.append(name)
    return texts


def of_python(source: str) -> Iterator[Text]:
    """The texts of a module; raises ValueError where what is marked is no plain text."""
    calls = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call))
    for call in sorted(calls, key=lambda call: (call.lineno, call.col_offset)):
        name = call.func.id if isinstance(call.func, ast.Name) else ""
        if name in ONE | COUNTED:
            parts = call.args[: 2 if name in COUNTED else 1]
            texts = [part.value for part in parts if isinstance(part, ast.Constant) and isinstance(part.value, str)]
            if len(texts) != len(parts):
                raise ValueError(f"line {call.lineno}: {ast.unparse(call)} marks what is no plain text")
            yield tuple(texts)


def of_template(source: str) -> Iterator[Text]:
    """The texts of a template."""
    marked = templatize(source)
    yield from _matches(marked, _IN_TEMPLATE)
    yield from _matches(marked, _COUNTED_IN_TEMPLATE)


def of_script(source: str) -> Iterator[Text]:
    """The texts of a script."""
    yield from _matches(source, _IN_SCRIPT)
    yield from _matches(source, _COUNTED_IN_SCRIPT)


def _matches(source: str, pattern: re.Pattern[str]) -> Iterator[Text]:
    for match in pattern.finditer(source):
        yield tuple(ast.literal_eval(text) for text in match.groupdict().values())


READERS: Mapping[str, Callable[[str], Iterator[Text]]] = {".py": of_python, ".html": of_template, ".js": of_script}
