"""What msgspec reads into is a struct, known when it is defined.

A dataclass it learns when it first meets it, and two threads that meet one for the first time at once, as the first
posts after a start do, end the whole process.
"""

from __future__ import annotations

import ast
import dataclasses
import importlib
from collections.abc import Iterator
from pathlib import Path

from consult.state.case import CaseState

PROJECT = Path(__file__).resolve().parents[2]
FILES = [path for package in ("api", "consult", "dosing") for path in (PROJECT / package).rglob("*.py")]


def read_into(path: Path) -> Iterator[object]:
    """The classes that a module converts or decodes to; what a caller hands it is found at the caller's."""
    text = path.read_text(encoding="utf-8")
    if "msgspec" not in text:
        return
    known = vars(importlib.import_module(".".join(path.relative_to(PROJECT).with_suffix("").parts)))
    for call in (node for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Call)):
        for named in (node for wanted in _wanted(call) for node in ast.walk(wanted) if isinstance(node, ast.Name)):
            yield known.get(named.id)


def _wanted(call: ast.Call) -> list[ast.expr]:
    function = ast.unparse(call.func)
    if function == "msgspec.convert":
        return call.args[1:2]
    return [keyword.value for keyword in call.keywords] if function == "msgspec.json.decode" else []


def test_no_dataclass_is_read_into() -> None:
    found = [each for path in FILES for each in read_into(path)]

    assert CaseState in found
    assert [each for each in found if dataclasses.is_dataclass(each)] == []
