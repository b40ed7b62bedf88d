"""Every number behind the simulated bodies says where it comes from."""

from __future__ import annotations

import tomllib
from typing import Any

from consult.simulation import effects


def rows(table: dict[str, Any], path: str = "") -> list[tuple[str, Any]]:
    """All leaves of the file with their path."""
    found = []
    for key, value in table.items():
        found += rows(value, f"{path}{key}.") if isinstance(value, dict) else [(f"{path}{key}", value)]
    return found


ROWS = rows(tomllib.loads(effects.FILE.read_text(encoding="utf-8")))


def test_each_number_has_a_mark_and_a_ground() -> None:
    for path, row in ROWS:
        if path.endswith(".unit"):
            assert isinstance(row, str), path
            continue
        value, mark, ground = row

        assert isinstance(value, int | float), path
        assert mark in effects.MARKS, path
        assert len(ground) > 3, path


def test_looking_again_has_an_answer_for_every_treatment() -> None:
    numbers = effects.load()

    assert numbers.look_again("epinephrine-push-dose") < 2
    assert numbers.look_again("something else") == numbers.look_again_min["other"]
