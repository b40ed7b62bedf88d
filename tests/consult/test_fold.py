"""Folding: every kind of event has its fold, and an old journal is read for ever."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from consult import events
from consult.case.fold.apply import FOLDS, fold
from consult.events import CaseOpened
from consult.journal import read
from consult.models import JournalEntry
from dosing.ground.facts import Goal, Weight

KEPT = Path(__file__).with_name("journal_of_version_1.json")
OF_AGENCIES = {"consult.events.people", "consult.events.rules"}


def test_every_kind_of_event_of_a_case_has_a_fold() -> None:
    of_cases = {event for event in read.KINDS.values() if event.__module__ not in OF_AGENCIES}

    assert of_cases - FOLDS.keys() == {CaseOpened}  # with which a case begins
    assert FOLDS.keys() <= of_cases


@pytest.fixture(scope="module")
def kept() -> dict[str, Any]:
    """A case in which everything happened, as journal lines of the first version, and what they came to then."""
    found: dict[str, Any] = json.loads(KEPT.read_text(encoding="utf-8"))
    return found


def row(line: dict[str, Any]) -> JournalEntry:
    times = {name: datetime.fromisoformat(line[name]) for name in ("at", "received_at")}
    return JournalEntry(**{**line, **times, "data": json.dumps(line["data"])})


def test_a_journal_of_the_first_version_is_read_for_ever(kept: dict[str, Any]) -> None:
    """The file is never changed: whoever changes an event's fields writes an up-cast. That each kind comes
    about, those since then too, is shown by `test_growth.py`.
    """
    state = fold(read.entry_of(row(line)) for line in kept["lines"])
    then = kept["state"]

    assert len({line["kind"] for line in kept["lines"]}) == 29
    assert state.seq == then["seq"]
    for name in ("doses", "orders", "alerts", "reassessments", "containers", "access", "readings"):
        assert [each.id for each in getattr(state, name)] == [each["id"] for each in then[name]]
    assert [dose.shown for dose in state.doses] == [dose["shown"] for dose in then["doses"]]
    assert [dose.verdict for dose in state.doses] == [dose["verdict"] for dose in then["doses"]]
    assert {name: latest.value for name, latest in state.latest.items()} == {
        name: latest["value"] for name, latest in then["latest"].items()
    }
    set_at = [read.entry_of(row(line)).at for line in kept["lines"] if line["kind"] == "goal.set"]
    assert (state.patient.weight, state.goal) == (
        Weight(**then["patient"]["weight"]),
        Goal(**then["goal"], since=set_at[-1]),
    )


def test_an_older_event_is_raised_step_by_step(monkeypatch: pytest.MonkeyPatch) -> None:
    class Renamed(events.NoteAdded, frozen=True, kw_only=True):
        """A note as a third version might have it."""

        version = 3
        words: str = ""

    steps = {
        ("note.added", 1): lambda data: {**data, "said": data["text"]},
        ("note.added", 2): lambda data: {**data, "words": data["said"].upper()},
    }
    monkeypatch.setattr(read, "KINDS", {"note.added": Renamed})
    monkeypatch.setattr(read, "UP_CASTS", steps)

    raised = read.event_of("note.added", 1, '{"id":"7","text":"cold hands"}')
    assert isinstance(raised, Renamed)
    assert raised.words == "COLD HANDS"
