"""Cardiac arrest on the card: since when, how many shocks and doses; what pauses says so and comes back after it."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

import pytest

from consult.actions import alerts, corrections, notes
from consult.clock import stamp
from consult.models import Alert
from tests.conftest import Consult, earlier, later

EPINEPHRINE = "epinephrine-arrest"
LOW = {"sbp": 62, "dbp": 30}


def phase(consult: Consult, name: str, at: datetime) -> str:
    told = {"id": uuid4(), "at": at, "phase": name}
    return str(notes.change_phase(consult.cast.osk, consult.uid, told, at).resource.id)


def done(consult: Consult, procedure: str, at: datetime, **more: Any) -> str:
    told = {"id": uuid4(), "at": at, "procedure": procedure, **more}
    return str(notes.add_procedure(consult.cast.osk, consult.uid, told, at).resource.id)


def shock(consult: Consult, at: datetime, joules: float = 200, **more: Any) -> str:
    return done(consult, "defibrillation", at, settings={"joules": joules}, **more)


def correct(consult: Consult, kind: str, entry: str, at: datetime) -> None:
    target = {"kind": kind, "id": UUID(entry)}
    corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), "target": target, "reason": "not done"}, at)


def kinds(consult: Consult) -> list[str]:
    """The kinds of open alerts, but that no physician has taken control."""
    return [alert["kind"] for alert in consult.card["alerts"] if alert["kind"] != "not_accepted"]


def test_a_case_without_an_arrest_tells_of_none(consult: Consult) -> None:
    shock(consult, later())
    assert consult.card["arrest"] is None
    assert [each["procedure"] for each in consult.card["procedures"]] == ["defibrillation"]


def test_the_card_counts_shocks_and_doses_and_when_the_next_may_follow(consult: Consult) -> None:
    """Epinephrine 1 mg every 3-5 min, the rhythm looked at every 2 min (life support guidelines, from memory)."""
    phase(consult, "arrest", later())
    done(consult, "cpr", later(seconds=20))
    shock(consult, later(minutes=1), 120)
    shock(consult, later(minutes=3), 200, outcome="done")
    shock(consult, later(minutes=4), 360, outcome="failed")  # did not go off
    done(consult, "cpr", later(minutes=3, seconds=10))
    consult.give(EPINEPHRINE, 1, "mg", at=later(minutes=2))
    told = consult.card["arrest"]

    (span,) = told["spans"]
    assert (span["since"], span["until"], span["then"]) == (stamp(later()), None, None)
    assert (told["shocks"], told["last_shock"]["joules"], told["last_shock"]["at"]) == (2, 200, stamp(later(minutes=3)))
    assert told["compressions_at"] == stamp(later(minutes=3, seconds=10))
    assert told["check_at"] == stamp(later(minutes=5, seconds=10))
    (dose,) = told["doses"]
    assert (dose["treatment"], dose["count"]) == (EPINEPHRINE, 1)
    assert (dose["last_at"], dose["next_at"]) == (stamp(later(minutes=2)), stamp(later(minutes=5)))


class TestPausesInCompressions:
    """By hand: on from 0:20 to the end at 10:20, paused 2:20-2:35 and 5:00-5:45: 60 s of 600 s, 90%."""

    @pytest.fixture(autouse=True)
    def _arrest(self, consult: Consult) -> None:
        phase(consult, "arrest", later())
        for seconds, what in ((20, "cpr"), (140, "cpr_pause"), (155, "cpr"), (300, "cpr_pause")):
            done(consult, what, later(seconds=seconds))

    def told(self, consult: Consult) -> dict[str, Any]:
        return dict(consult.card["arrest"]["spans"][-1]["compressions"])

    def test_one_that_lasts_is_told_since_when(self, consult: Consult):
        told = self.told(consult)

        assert (told["paused"], told["seconds"], told["since"]) == (2, 15, stamp(later(seconds=300)))
        assert told["fraction"] is None

    def test_the_fraction_is_told_at_the_end(self, consult: Consult):
        done(consult, "cpr", later(seconds=345))
        phase(consult, "pulse_back", later(seconds=620))

        assert self.told(consult) == {"paused": 2, "seconds": 60, "since": None, "fraction": 90}

    def test_a_pause_that_is_told_twice_is_one_and_ends_with_the_arrest(self, consult: Consult):
        done(consult, "cpr_pause", later(seconds=310))
        phase(consult, "ended", later(seconds=320))

        assert self.told(consult) == {"paused": 2, "seconds": 35, "since": None, "fraction": 88}  # 265 s of 300 s

    def test_a_pause_that_was_entered_in_error_is_none(self, consult: Consult):
        correct(consult, "procedure", done(consult, "cpr_pause", later(seconds=400)), later(seconds=410))
        done(consult, "cpr", later(seconds=345))

        assert self.told(consult)["since"] is None


def test_arrests_are_told_one_by_one_whenever_they_are_told(consult: Consult) -> None:
    phase(consult, "pulse_back", later(minutes=6))
    phase(consult, "arrest", later(minutes=9))
    phase(consult, "arrest", later(minutes=1))  # told last
    phase(consult, "arrest", later(minutes=10))  # told twice
    phase(consult, "ended", later(minutes=30))
    spans = consult.card["arrest"]["spans"]
    assert [(each["since"], each["until"], each["then"]) for each in spans] == [
        (stamp(later(minutes=1)), stamp(later(minutes=6)), "pulse_back"),
        (stamp(later(minutes=9)), stamp(later(minutes=30)), "ended"),
    ]
    assert consult.card["arrest"]["compressions_at"] is None


def test_a_shock_in_error_counts_no_more(consult: Consult) -> None:
    phase(consult, "arrest", later())
    wrong = shock(consult, later(minutes=1))
    shock(consult, later(minutes=1), 360)
    correct(consult, "procedure", wrong, later(minutes=2))
    assert consult.card["arrest"]["shocks"] == 1
    assert [each["settings"]["joules"] for each in consult.card["procedures"]] == [360]


def test_all_shocks_count_whatever_the_card_shows(consult: Consult) -> None:
    phase(consult, "arrest", later())
    for number in range(62):
        shock(consult, later(minutes=number))
    assert (consult.card["arrest"]["shocks"], len(consult.card["procedures"])) == (62, 60)


def test_what_was_open_ends_with_its_reason_and_comes_back_with_a_reading(consult: Consult) -> None:
    consult.vitals(at=later(), **LOW)
    assert kinds(consult) == ["low_pressure"]
    phase(consult, "arrest", later(minutes=1))
    assert kinds(consult) == []
    assert Alert.objects.get(case=consult.row).cleared_because == "paused: cardiac arrest"
    consult.vitals(at=later(minutes=2), **LOW)
    alerts.sweep(later(minutes=3))
    assert kinds(consult) == []
    phase(consult, "pulse_back", later(minutes=4))
    assert kinds(consult) == []  # nothing was measured since
    consult.vitals(at=later(minutes=5), **LOW)
    assert kinds(consult) == ["low_pressure"]


def test_an_arrest_in_error_brings_back_what_it_paused(consult: Consult) -> None:
    consult.vitals(at=later(), **LOW)
    wrong = phase(consult, "arrest", later(minutes=1))
    correct(consult, "phase", wrong, later(minutes=2))
    assert kinds(consult) == ["low_pressure"]


def test_readings_pause_and_a_first_set_is_asked_for(consult: Consult) -> None:
    consult.vitals(at=earlier(minutes=1), sbp=84, dbp=50)
    consult.give("epinephrine-push-dose", 10, "mcg", at=later())
    assert len(consult.card["reassessments"]) == 1
    phase(consult, "arrest", later(minutes=1))
    alerts.sweep(later(minutes=9))
    assert (consult.card["reassessments"], kinds(consult)) == ([], ["no_contact"])

    phase(consult, "pulse_back", later(minutes=10))
    asked = consult.card["reassessments"]
    assert "the return of pulse" in [each["because"] for each in asked]
    assert {each["due_at"] for each in asked} == {stamp(later(minutes=13))}
    done(consult, "airway", later(minutes=14), outcome="done")  # it is heard
    alerts.sweep(later(minutes=14, seconds=59))
    assert kinds(consult) == []
    alerts.sweep(later(minutes=15))
    assert kinds(consult) == ["reassessment_overdue"]

    consult.vitals(at=later(minutes=16), sbp=96, dbp=60, hr=90, spo2=95)
    assert (consult.card["reassessments"], kinds(consult)) == ([], [])


def test_a_first_set_in_error_is_asked_for_again(consult: Consult) -> None:
    phase(consult, "arrest", later())
    phase(consult, "pulse_back", later(minutes=5))
    wrong = consult.vitals(at=later(minutes=6), sbp=96, dbp=60, hr=90, spo2=95)
    assert consult.card["reassessments"] == []
    correct(consult, "vitals", wrong.resource.id, later(minutes=7))
    assert [each["because"] for each in consult.card["reassessments"]] == ["the return of pulse"]


def test_the_goal_of_the_card_is_that_after_an_arrest(consult: Consult) -> None:
    phase(consult, "arrest", later())
    phase(consult, "pulse_back", later(minutes=5))
    goal = consult.card["goal"]
    assert (goal["measure"], goal["floor"], goal["because"]) == ("map", 65, "pulse back after cardiac arrest")


def test_doses_for_an_arrest_are_counted_apart(consult: Consult) -> None:
    """Findings none, no alert, and none of the push dose's count or total used up."""
    consult.vitals(at=later(), sbp=84, dbp=50)
    phase(consult, "arrest", later(minutes=1))
    for minutes in (2, 6, 10):
        given = consult.give(EPINEPHRINE, 1, "mg", at=later(minutes=minutes), now=later(minutes=minutes))
        assert given.resource.check.verdict == "within"
    phase(consult, "pulse_back", later(minutes=12))
    consult.vitals(at=later(minutes=13), sbp=84, dbp=50)
    after = consult.give("epinephrine-push-dose", 10, "mcg", at=later(minutes=14))
    assert {"count", "total", "over_total"}.isdisjoint(each.code for each in after.resource.check.findings)
    lines = {each["treatment"]: each["count"] for each in consult.card["given"]}
    assert lines == {EPINEPHRINE: 3, "epinephrine-push-dose": 1}
