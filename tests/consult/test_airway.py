"""An airway in place is known to the rules, until it is taken back."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest

from consult.actions import cards, corrections, notes
from consult.case.fold.treated import MOST_PROCEDURES
from tests.conftest import Consult, later

DROWSY = {"sbp": 120, "dbp": 80, "rr": 14, "spo2": 97, "gcs": 6}


def speaks_of_it(consult: Consult, minute: float) -> bool:
    """Whether a dose that calms is told to be a danger for who is hardly awake."""
    found = consult.give("fentanyl", 60, "mcg", at=later(minutes=minute), indication="pain").resource.check.findings
    return any("no airway in place" in each.text for each in found)


def airway(consult: Consult, minute: float, outcome: str = "done", site: str = "Tube") -> UUID:
    done = {"id": uuid4(), "procedure": "airway", "at": later(minutes=minute), "site": site, "outcome": outcome}
    notes.add_procedure(consult.cast.osk, consult.uid, done, later(minutes=minute))
    return done["id"]


@pytest.mark.parametrize(("outcome", "told"), [("done", False), ("failed", True), ("attempted", True)])
def test_who_has_an_airway_may_be_hardly_awake(consult: Consult, outcome: str, told: bool) -> None:
    consult.vitals(at=later(minutes=0), **DROWSY)
    placed = airway(consult, 1, outcome)

    assert speaks_of_it(consult, 2) == told
    assert consult.card["access"] == []
    wrong = {"id": uuid4(), "target": {"kind": "procedure", "id": placed}, "reason": "another patient"}
    corrections.correct(consult.cast.osk, consult.uid, wrong, later(minutes=3))

    assert speaks_of_it(consult, 4)
    assert not cards.differs(consult.row)


@pytest.mark.parametrize(("site", "told"), [("Bag and mask", True), ("Supraglottic", False)])
def test_a_mask_is_no_airway_in_place(consult: Consult, site: str, told: bool) -> None:
    consult.vitals(at=later(minutes=0), **DROWSY)
    airway(consult, 1, site=site)

    assert speaks_of_it(consult, 2) == told


def test_a_tube_is_in_place_however_much_is_done_after_it(consult: Consult) -> None:
    consult.vitals(at=later(minutes=0), **DROWSY)
    airway(consult, -600)  # by the hospital, before this crew
    for minute in range(MOST_PROCEDURES + 2):
        done = {"id": uuid4(), "procedure": "ecg_12", "at": later(minutes=minute / 60), "outcome": "done"}
        notes.add_procedure(consult.cast.osk, consult.uid, done, later(minutes=minute / 60))

    assert not speaks_of_it(consult, 2)
