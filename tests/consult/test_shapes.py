"""msgspec has learnt every class that it reads into before there are two threads, which might end the process."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from consult.shapes import SHAPES

PROJECT = Path(__file__).resolve().parents[2]
# Structs are learnt when they are defined; the others go by another name where they are read.
ELSEWHERE = {"Place", "Seal", "Asked"}


def read_into() -> set[str]:
    """The names of all classes that the sources convert to."""
    found = set()
    for path in (PROJECT / "consult").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "msgspec.convert":
                found.add(ast.unparse(node.args[1]).removesuffix(" | None").rpartition(".")[2])
    return found


def test_every_class_that_is_read_into_is_among_them() -> None:
    assert {"Facts", "Reading"} <= read_into()
    assert read_into() - ELSEWHERE <= {shape.__name__ for shape in SHAPES}


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.__name__)
def test_each_is_known_once_the_board_is_up(shape: type) -> None:
    assert "__msgspec_cache__" in vars(shape)
