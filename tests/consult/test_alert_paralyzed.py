"""Paralyzed, without a sedative for too long: alarm that a crew reads as it stands; a low GCS with a tube is none."""

from __future__ import annotations

from datetime import datetime
from uuid import uuid4

from consult.actions import alerts, cards, notes
from consult.models import Alert
from consult.render.alarms import alarms
from dosing.ground.kinds import MEASURED
from tests.conftest import NOON, Consult, later

GOOD = {"sbp": 120, "dbp": 70, "rr": 14, "spo2": 97}


def tube(consult: Consult, at: datetime) -> None:
    done = {"id": uuid4(), "procedure": "airway", "at": at, "site": "Tube", "outcome": "done"}
    notes.add_procedure(consult.cast.osk, consult.uid, done, at)


def sedation(consult: Consult) -> list[str]:
    return [each["text"] for each in consult.card["alerts"] if each["kind"] == "no_sedation"]


def crew_told(consult: Consult) -> list[str]:
    """The alarms that a crew's page tells as they stand."""
    return [each["text"] for each in alarms(consult.card) if each["kind"] in MEASURED and each["priority"] == "high"]


def test_ketamine_48_min_ago_and_rocuronium_47_min_ago(consult: Consult) -> None:
    consult.vitals(at=NOON, **GOOD)
    consult.give("ketamine", 80, "mg", at=later(minutes=1), indication="induction")
    consult.give("rocuronium", 90, "mg", at=later(minutes=2))
    tube(consult, later(minutes=3))
    consult.vitals(at=later(minutes=4), **GOOD)
    alerts.sweep(later(minutes=17.9))
    assert sedation(consult) == []
    alerts.sweep(later(minutes=18))

    words = "No sedative or opioid since 12:01 UTC, paralyzed by rocuronium 12:02 UTC: perhaps awake"
    assert sedation(consult) == [words]
    assert words.replace(" UTC", "") in crew_told(consult)
    consult.give("fentanyl", 40, "mcg", at=later(minutes=49), indication="intubated")

    assert sedation(consult) == []
    assert Alert.objects.get(kind="no_sedation").cleared_at == later(minutes=49)
    assert not cards.differs(consult.row)


def test_the_alarm_of_a_low_score_ends_with_the_tube(consult: Consult) -> None:
    consult.vitals(at=NOON, **GOOD, gcs=6)
    assert consult.alerts == {"vital_sign"}
    assert consult.card["vitals"]["derived"]["alarming"] == {"gcs": "danger"}
    tube(consult, later(minutes=1))

    assert consult.alerts == set()
    assert consult.card["vitals"]["derived"]["alarming"] == {}
    consult.vitals(at=later(minutes=2), **GOOD, gcs=3)

    assert consult.alerts == set()
    assert not cards.differs(consult.row)
