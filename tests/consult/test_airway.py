"""An airway in place is known to the rules, until it is taken back."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest

from consult.actions import cards, corrections, notes
from tests.conftest import Consult, later

DROWSY = {"sbp": 120, "dbp": 80, "rr": 14, "spo2": 97, "gcs": 6}


def speaks_of_it(consult: Consult, minute: float) -> bool:
    """Whether a dose that calms is told to be a danger for who is hardly awake."""
    found = consult.give("fentanyl", 60, "mcg", at=later(minutes=minute), indication="pain").resource.check.findings
    return any("no airway in place" in each.text for each in found)


def airway(consult: Consult, minute: float, outcome: str) -> UUID:
    done = {"id": uuid4(), "procedure": "airway", "at": later(minutes=minute), "outcome": outcome}
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
