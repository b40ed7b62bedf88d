"""A file that somebody sends is judged by a process of its own, which may cost its ten seconds and half a gigabyte."""

from __future__ import annotations

import subprocess
from typing import Any

import pytest

from consult import rule_set_files
from consult.rule_set_files import TOO_BUSY, TOO_LARGE, TOO_LONG, TOO_MUCH, read
from dosing.load import reader
from dosing.load.faults import RuleSetFaults

OWN = (reader.SHIPPED / "conservative.toml").read_text(encoding="utf-8")
CHANGED = OWN.replace('version = "1"', 'version = "2"')
# Each part of a dotted key is kept with all those before it.
DOTTED = "\n".join(f"a{number}{'.b' * 5000} = 1" for number in range(90))


def told(text: str, name: str = "draft.toml") -> list[str]:
    with pytest.raises(RuleSetFaults) as refused:
        read(text, name)
    return [fault.text for fault in refused.value.faults]


def test_a_rule_set_is_read_as_ever() -> None:
    assert CHANGED != OWN
    assert read(CHANGED, "draft.toml").digest == reader.loads(CHANGED).digest


def test_all_faults_of_a_file_come_back_with_entry_and_line() -> None:
    broken = CHANGED + "\n[nonsense]\nx = 1\n"
    with pytest.raises(RuleSetFaults) as ours:
        reader.loads(broken, "draft.toml")
    with pytest.raises(RuleSetFaults) as theirs:
        read(broken, "draft.toml")
    assert theirs.value.faults == ours.value.faults != []


def test_a_file_that_takes_too_much_memory_ends_that_process_alone() -> None:
    assert told(DOTTED) == [TOO_MUCH]


def test_a_file_that_takes_too_long_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rule_set_files, "MOST_SECONDS", 1)
    assert told("a." * 450_000 + "a = 1") == [TOO_LONG]


def test_a_machine_with_too_much_to_do_is_told_as_that(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rule_set_files, "MOST_WAIT_S", 0.01)
    assert told(CHANGED) == [TOO_BUSY]


def test_a_file_of_more_than_a_megabyte_is_not_read_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(subprocess, "run", _never)
    assert told("#" * 1_000_001) == [TOO_LARGE]


def test_a_set_that_ships_needs_no_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(subprocess, "run", _never)
    assert read(OWN, "conservative.toml").name == "conservative"


@pytest.mark.parametrize("name", ["x" * 200_000, "a\0b", "-c", "\udcff.toml"], ids=["long", "zero", "dash", "half"])
def test_no_name_of_a_file_is_in_the_way(name: str) -> None:
    assert told("", name)


def _never(*_: Any, **__: Any) -> None:
    raise AssertionError("a process was started")
