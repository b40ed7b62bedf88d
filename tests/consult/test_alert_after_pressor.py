"""The alert after a pressor: raised with the reading, late or not; cleared by a reading, a correction, the window."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest

from consult.actions import alerts, corrections
from consult.case.decide import added_up
from consult.models import Alert
from tests.conftest import NOON, Cast, Consult, child, earlier, later, open_consult

PUSH = "epinephrine-push-dose"


def standing(consult: Consult) -> list[str]:
    """The texts of the open alerts after a pressor."""
    return [each["text"] for each in consult.card["alerts"] if each["kind"] == "after_pressor"]


def correct(consult: Consult, kind: str, written: Any, at: Any) -> None:
    target = {"kind": kind, "id": UUID(written.resource.id)}
    corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), "target": target, "reason": "misread"}, at)


def pushed(consult: Consult) -> Any:
    """A rate of 104 a minute before the push, then the push at noon."""
    consult.vitals(at=earlier(minutes=1), sbp=80, dbp=44, hr=104)
    return consult.give(PUSH, 10, "mcg")


def test_a_rate_that_is_new_is_high_and_clears_when_it_is_gone(consult: Consult) -> None:
    pushed(consult)
    consult.vitals(at=later(minutes=2), sbp=96, dbp=56, hr=152)

    assert standing(consult) == ["Heart rate above 140 after EPINEPHrine push dose"]
    assert Alert.objects.get(kind="after_pressor").priority == "high"
    consult.vitals(at=later(minutes=4), hr=120)
    assert standing(consult) == []


def test_one_alert_however_long_it_lasts_and_the_sweep_adds_none(consult: Consult) -> None:
    pushed(consult)
    for minute in (2, 4, 6):
        consult.vitals(at=later(minutes=minute), sbp=96, dbp=56, hr=150 + minute)
        alerts.sweep(later(minutes=minute, seconds=30))

    assert Alert.objects.filter(kind="after_pressor").count() == 1


def test_a_reading_after_the_window_ends_it_and_time_alone_does_not(consult: Consult) -> None:
    pushed(consult)
    consult.vitals(at=later(minutes=8), sbp=96, dbp=56, hr=152)
    alerts.sweep(later(minutes=12))
    assert len(standing(consult)) == 1
    consult.vitals(at=later(minutes=12), hr=152)

    assert standing(consult) == []


def test_a_reading_that_comes_late_raises_it_and_one_before_it_takes_it_back(consult: Consult) -> None:
    consult.give(PUSH, 10, "mcg")
    consult.vitals(at=later(minutes=2), now=later(minutes=7), sbp=96, dbp=56, hr=152)
    assert len(standing(consult)) == 1
    consult.vitals(at=earlier(minutes=1), now=later(minutes=8), hr=150)

    assert standing(consult) == [], "the heart was as fast before the push"


def test_a_push_that_is_recorded_late_raises_it(consult: Consult) -> None:
    consult.vitals(at=earlier(minutes=1), sbp=80, dbp=44, hr=104)
    consult.vitals(at=later(minutes=2), sbp=192, dbp=96, hr=110)
    assert standing(consult) == []
    consult.give(PUSH, 10, "mcg", at=NOON, now=later(minutes=5))

    assert standing(consult) == ["Systolic above 180 after EPINEPHrine push dose"]


def test_a_corrected_reading_or_dose_takes_it_along(consult: Consult) -> None:
    given = pushed(consult)
    reading = consult.vitals(at=later(minutes=2), hr=152)
    correct(consult, "vitals", reading, later(minutes=3))
    assert standing(consult) == []
    consult.vitals(at=later(minutes=4), hr=154)
    assert len(standing(consult)) == 1
    correct(consult, "intervention", given, later(minutes=5))

    assert standing(consult) == []


def test_a_child_is_judged_by_its_age(cast: Cast) -> None:
    ben = open_consult(cast, child(5, 18))
    ben.vitals(at=earlier(minutes=1), sbp=70, dbp=40, hr=104)
    ben.give(PUSH, 9, "mcg")
    ben.vitals(at=later(minutes=2), sbp=84, dbp=50, hr=124)

    assert standing(ben) == ["Heart rate above 120 after EPINEPHrine push dose"]


def test_it_lasts_however_many_doses_follow(consult: Consult, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a long case the newest doses alone are kept one by one; the one that an alarm is about is kept besides."""
    monkeypatch.setattr(added_up, "MOST_KEPT", 3)
    consult.vitals(sbp=84, dbp=50, hr=90)
    for minute, more in ((0, {"hr": 170}), *((20 * number, {}) for number in range(1, 6))):
        consult.give(PUSH, 10, "mcg", at=later(minutes=minute + 1))
        consult.vitals(at=later(minutes=minute + 3), sbp=84, dbp=50, **more)

    assert standing(consult) == ["Heart rate above 140 after EPINEPHrine push dose"]
