"""Phases, shocks and doses of an arrest used wrongly: each gets one clear answer, and nothing of it is kept.

A row is what was done before, what is done wrongly then, and the answer: status and the field that a 422 points at, or
its type.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.api.conftest import Program, new_id, refused
from tests.api.story import Story
from tests.conftest import NOON

SHOCK = {"procedure": "defibrillation", "outcome": "done", "settings": {"joules": 200}}
CPR = {"procedure": "cpr", "outcome": "done"}
EPINEPHRINE = {"treatment": "epinephrine-arrest", "amount": {"value": 1, "unit": "mg"}, "route": "IV"}
RATE = {**EPINEPHRINE, "given_at": NOON.isoformat(), "amount": {"value": 1, "unit": "mg/min"}}
Act = Callable[[Story, Program], Any]


def told(address: str, **body: Any) -> Act:
    """An entry of the case."""
    return lambda story, who: who.post(f"cases/{story.case}/{address}/", {"id": new_id(), **body})


def phase(name: Any, **body: Any) -> Act:
    return told("phase", phase=name, **body)


def ahead(story: Story, who: Program) -> Any:
    return phase("arrest", at=story.time(10))(story, who)


def twice(story: Story, who: Program) -> Any:
    """The same id for another phase."""
    entry = new_id()
    who.post(f"cases/{story.case}/phase/", {"id": entry, "phase": "arrest"})
    return who.post(f"cases/{story.case}/phase/", {"id": entry, "phase": "ended"})


def no_such_entry(kind: str) -> Act:
    return told("corrections", target={"kind": kind, "id": new_id()}, reason="pressed by mistake")


def energy(joules: Any) -> Act:
    return told("procedures", **{**SHOCK, "settings": {"joules": joules}})


ROWS: list[tuple[str, Act, str, int, str]] = [
    ("a phase that there is not", phase("rosc"), "crew", 422, "/phase"),
    ("no phase at all", told("phase"), "crew", 422, "/phase"),
    ("two phases at once", phase(["arrest", "ended"]), "crew", 422, "/phase"),
    ("a phase with a word too much", phase("arrest", rhythm="VF"), "crew", 422, "/rhythm"),
    ("an arrest that is yet to come", ahead, "crew", 422, "/at"),
    ("a time without its offset", phase("arrest", at="2030-01-05T12:00:00"), "crew", 422, "/at"),
    ("the same id for another phase", twice, "crew", 409, "id-reused"),
    ("by a supervisor, who only reads", phase("arrest"), "supervisor", 403, ""),
    ("by another unit", phase("arrest"), "crew2", 404, ""),
    ("a shock of no energy", energy(0), "crew", 422, "/settings/joules"),
    ("a shock beyond any device", energy(2000), "crew", 422, "/settings/joules"),
    ("a shock in words", energy("two hundred"), "crew", 422, "/settings/joules"),
    ("compressions with an energy", told("procedures", **CPR, settings={"joules": 200}), "crew", 422, "/settings"),
    ("a shock without its outcome", told("procedures", procedure="defibrillation"), "crew", 422, "/outcome"),
    ("a shock in error that never was", no_such_entry("procedure"), "crew", 422, "/target/id"),
    ("a phase in error that never was", no_such_entry("phase"), "crew", 422, "/target/id"),
    ("a shock by a supervisor", told("procedures", **SHOCK), "supervisor", 403, ""),
    ("a rate for a single dose", told("interventions", **RATE), "crew", 422, "/amount"),
]


@pytest.mark.parametrize(("act", "by", "status", "where"), [row[1:] for row in ROWS], ids=[row[0] for row in ROWS])
def test_what_is_wrong_is_refused_and_leaves_nothing(cast, monkeypatch, act, by, status, where) -> None:
    story = Story(cast, monkeypatch).open()
    seq = story.card()["seq"]
    answer = act(story, getattr(cast, by))
    named = {"pointer": where} if status == 422 else {"kind": where or None}
    refused(answer, status, **named)
    kept = 1 if act is twice else 0  # its first half is right
    assert story.card()["seq"] == seq + kept


def test_a_dose_for_an_arrest_with_a_pulse_is_kept_and_flagged(cast, monkeypatch) -> None:
    """What was given is always kept; that it is for an arrest alone is told, and wants a person."""
    story = Story(cast, monkeypatch).open()
    given = story.give("epinephrine-arrest", "1 mg")
    assert given["check"]["verdict"] == "over_hard_limit"
    assert "dose_outside_limits" in {alert["kind"] for alert in story.card()["alerts"]}


def test_an_arrest_told_to_a_case_that_has_ended_is_late_and_wakes_nobody(cast, monkeypatch) -> None:
    story = Story(cast, monkeypatch).open()
    story.posted(f"cases/{story.case}/close/", {"outcome": "died"})
    story.posted(f"cases/{story.case}/phase/", {"phase": "arrest", "at": story.time(-5)})
    story.posted(f"cases/{story.case}/phase/", {"phase": "pulse_back", "at": story.time(-2)})
    story.at(30)
    assert story.card()["alerts"] == []


@pytest.mark.parametrize("order", [("arrest", "pulse_back"), ("pulse_back", "arrest")])
def test_in_a_batch_the_times_decide_and_not_the_order(cast, monkeypatch, order) -> None:
    """A phone that was out of reach sends an arrest of 12:01 and a pulse of 12:05 in whatever order."""
    story = Story(cast, monkeypatch).open().at(10)
    minutes = {"arrest": 1, "pulse_back": 5}
    entries = [
        {"kind": "phase", "id": new_id(), "case": story.case, "phase": name, "at": story.time(minutes[name])}
        for name in order
    ]
    story.posted("batch/", {"sent_at": story.time(None), "entries": entries})
    card = story.card()
    assert (card["phase"], len(card["arrest"]["spans"])) == ("pulse_back", 1)
    assert [each["because"] for each in card["reassessments"]] == ["the return of pulse"]
