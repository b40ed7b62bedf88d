"""Every number behind the simulated bodies says where it comes from."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from consult.simulation import effects


def rows(table: dict[str, Any], path: str = "") -> list[tuple[str, Any]]:
    """All leaves of the file with their path."""
    found = []
    for key, value in table.items():
        found += rows(value, f"{path}{key}.") if isinstance(value, dict) else [(f"{path}{key}", value)]
    return found


ROWS = rows(tomllib.loads(effects.FILE.read_text(encoding="utf-8")))


@pytest.mark.parametrize(("path", "row"), ROWS, ids=[path for path, _ in ROWS])
def test_a_number_has_a_mark_and_a_ground(path: str, row: Any) -> None:
    if path.endswith(".unit"):
        assert isinstance(row, str)
        return
    value, mark, ground = row

    assert isinstance(value, int | float)
    assert mark in effects.MARKS
    assert len(ground) > 3


def test_looking_again_has_an_answer_for_every_treatment() -> None:
    numbers = effects.load()

    assert numbers.look_again("epinephrine-push-dose") < 2
    assert numbers.look_again("something else") == numbers.look_again_min["other"]
