"""What msgspec reads into is a struct, known when it is defined.

A dataclass it learns when it first meets it, and two threads that meet one for the first time at once, as the first
posts after a start do, end the whole process.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
TREES = [
    ast.parse(path.read_text(encoding="utf-8"))
    for package in ("api", "consult", "dosing")
    for path in (PROJECT / package).rglob("*.py")
]


def names_in(node: ast.AST) -> set[str]:
    return {each.id for each in ast.walk(node) if isinstance(each, ast.Name)} | {
        each.attr for each in ast.walk(node) if isinstance(each, ast.Attribute)
    }


def read_into(tree: ast.AST) -> Iterator[str]:
    """The names of all classes that a source converts or decodes to, under which they are defined."""
    imports = (node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom))
    imported = {alias.asname: alias.name for node in imports for alias in node.names}
    yield from (imported.get(name, name) for name in _named(tree))


def _named(tree: ast.AST) -> Iterator[str]:
    for call in (node for node in ast.walk(tree) if isinstance(node, ast.Call)):
        function = ast.unparse(call.func)
        if function == "msgspec.convert":
            yield from names_in(call.args[1])
        elif function == "msgspec.json.decode":
            yield from (name for keyword in call.keywords for name in names_in(keyword.value))


def test_no_dataclass_is_read_into() -> None:
    classes = [node for tree in TREES for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    dataclasses = {each.name for each in classes if any("dataclass" in ast.unparse(one) for one in each.decorator_list)}
    found = {name for tree in TREES for name in read_into(tree)}

    assert {"CaseState", "Order"} <= found
    assert found & dataclasses == set()
