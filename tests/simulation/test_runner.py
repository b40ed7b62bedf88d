"""Who plays what, with which token, and that a demonstration ends when it is told to."""

from __future__ import annotations

import json
from pathlib import Path
from threading import Event, Timer
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from consult.simulation import runner
from consult.simulation.runner import Device

UNITS = ["Plover 8", "Kestrel 2", "Dunlin 3", "Marten 4"]
DEVICES = [Device(call_sign, f"unit of {call_sign}", "secret") for call_sign in UNITS]


def token_file(folder: Path, text: str, mode: int = 0o600) -> str:
    path = folder / "tokens.json"
    path.write_text(text, encoding="utf-8")
    path.chmod(mode)
    return str(path)


def test_devices_are_read(tmp_path: Path) -> None:
    rows = [{"call_sign": "Wren 5", "unit_id": "1", "token": "t"}]

    assert runner.read_devices(token_file(tmp_path, json.dumps(rows))) == [Device("Wren 5", "1", "t")]


@pytest.mark.parametrize(
    ("text", "mode"),
    [
        pytest.param("[]", 0o644, id="others can read it"),
        pytest.param("{not json", 0o600, id="not JSON"),
        pytest.param('[{"call_sign": "Wren 5"}]', 0o600, id="no token in it"),
    ],
)
def test_a_bad_token_file_is_refused(tmp_path: Path, text: str, mode: int) -> None:
    with pytest.raises(runner.NoTokens):
        runner.read_devices(token_file(tmp_path, text, mode))


def test_a_missing_token_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(runner.NoTokens):
        runner.read_devices(str(tmp_path / "nothing.json"))


def test_each_shipped_transport_goes_to_its_unit_and_a_made_up_one_to_the_rest() -> None:
    parts = [(device.call_sign, scenario.call_sign) for device, scenario in runner.cast(DEVICES, 4)]

    assert parts[:3] == [(name, name) for name in ("Kestrel 2", "Marten 4", "Plover 8")]
    assert parts[3][0] == "Dunlin 3"


def test_few_units_are_the_ones_with_most_to_show() -> None:
    assert [device.call_sign for device, _ in runner.cast(DEVICES, 2)] == ["Kestrel 2", "Marten 4"]


def test_more_units_than_tokens_are_told(caplog: pytest.LogCaptureFixture) -> None:
    assert len(runner.cast(DEVICES, 9)) == 4
    assert "tokens for 4" in caplog.text


def test_a_run_against_nothing_ends_when_it_is_told_to(monkeypatch: pytest.MonkeyPatch) -> None:
    """No server at all: the units wait, none falls over, and all threads end."""
    monkeypatch.setattr(runner, "TICK_S", 0.01)
    stop = Event()
    Timer(0.2, stop.set).start()

    runner.run("http://127.0.0.1:9", DEVICES, count=2, speed=1, stop=stop)

    assert stop.is_set()


def test_a_unit_that_stumbles_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(runner, "AFTER_A_FAULT_S", 0.0)
    stop, seen = Event(), []

    class Stumbling:
        name = "Wren 5"
        crew: Any = type("Crew", (), {"case": "1"})
        outbox: Any = type("Outbox", (), {"flush": staticmethod(lambda moment: None)})

        def open_history(self) -> None: ...

        def tick(self, moment: object) -> None:
            seen.append(moment)
            if len(seen) == 3:
                stop.set()
            raise RuntimeError("a fault of ours")

    monkeypatch.setattr(runner, "close_leftovers", lambda *_: None)
    runner._live(Stumbling(), type("Link", (), {"close": lambda self: None})(), stop)  # type: ignore[arg-type]

    assert len(seen) == 3


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        pytest.param({"units": 0}, "--units", id="no units"),
        pytest.param({"speed": 1000.0}, "--speed", id="too fast"),
        pytest.param({}, "CONSULT_TOKENS_FILE", id="no tokens"),
    ],
)
def test_the_command_says_what_it_lacks(arguments: dict[str, Any], words: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CONSULT_TOKENS_FILE", raising=False)

    with pytest.raises(CommandError, match=words):
        call_command("simulate", **arguments)
