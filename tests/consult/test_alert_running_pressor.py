"""A pressor that runs asks for pressures in a real case: one open reading a dose, told when it is missing."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest

from consult.actions import alerts, batch, cards, cases, corrections, interventions
from consult.models import Reassessment
from tests.conftest import NOON, Cast, Consult, child, earlier, later, open_consult

DRIP = "norepinephrine-infusion"
STRENGTH = {"value": 16, "unit": "mcg/mL"}


def started(consult: Consult) -> UUID:
    consult.vitals(at=earlier(minutes=1), sbp=80, dbp=44)
    given = consult.give(DRIP, 4, "mcg/min", status="running", concentration=STRENGTH)
    return UUID(given.resource.id)


def change(consult: Consult, drip: UUID, minute: float, **what: Any) -> None:
    at = later(minutes=minute)
    interventions.change_intervention(consult.cast.osk, drip, {"id": uuid4(), "at": at, **what}, at)


def due(consult: Consult) -> list[str]:
    """At which minutes after noon what is asked for is due."""
    return [each["due_at"][14:16] for each in consult.card["reassessments"]]


def overdue(consult: Consult) -> list[str]:
    return [each["text"] for each in consult.card["alerts"] if each["kind"] == "reassessment_overdue"]


def pressure(consult: Consult, minute: float, **more: Any) -> Any:
    return consult.vitals(at=later(minutes=minute), **({"sbp": 92, "dbp": 56} | more))


def test_each_pressure_moves_the_next_one(consult: Consult) -> None:
    started(consult)
    assert due(consult) == ["03"]
    for minute, next_one in ((2, "07"), (6, "11"), (12, "17")):
        pressure(consult, minute)
        assert due(consult) == [next_one]

    assert Reassessment.objects.count() == 1
    assert [line["kind"] for line in consult.journal].count("reassessment.renewed") == 3
    assert not cards.differs(consult.row)


def test_a_missing_one_is_told_once_and_ends_with_the_pressure(consult: Consult) -> None:
    started(consult)
    pressure(consult, 2)
    consult.vitals(at=later(minutes=8), hr=100)
    for second in (0, 1, 30):
        alerts.sweep(later(minutes=9, seconds=second))
    assert overdue(consult) == ["No pressure while norepinephrine infusion runs, due 12:07 UTC"]
    pressure(consult, 10)

    assert (overdue(consult), due(consult)) == ([], ["15"])


def test_a_new_rate_asks_anew_and_the_end_once_more(consult: Consult) -> None:
    drip = started(consult)
    pressure(consult, 2)
    change(consult, drip, 5, amount={"value": 6, "unit": "mcg/min"})
    assert due(consult) == ["08"]
    pressure(consult, 7)
    assert due(consult) == ["12"]
    change(consult, drip, 9, status="stopped")
    assert due(consult) == ["12"], "three minutes after the end"
    pressure(consult, 11)

    assert (due(consult), Reassessment.objects.get().state) == ([], "done")


def test_a_pressure_taken_back_counts_no_more(consult: Consult) -> None:
    started(consult)
    pressure(consult, 2)
    wrong = pressure(consult, 6)
    assert due(consult) == ["11"]
    target = {"kind": "vitals", "id": UUID(wrong.resource.id)}
    taken_back = {"id": uuid4(), "target": target, "reason": "other patient"}
    corrections.correct(consult.cast.osk, consult.uid, taken_back, later(minutes=6.5))

    assert due(consult) == ["07"]
    assert not cards.differs(consult.row)


def test_a_late_pressure_that_is_older_changes_nothing(consult: Consult) -> None:
    started(consult)
    pressure(consult, 6)
    consult.vitals(at=later(minutes=4), now=later(minutes=7), sbp=90, dbp=54)

    assert due(consult) == ["11"]


def test_in_a_batch_it_is_worked_out_once_at_its_end(consult: Consult) -> None:
    consult.vitals(at=earlier(minutes=1), sbp=80, dbp=44)
    with batch.arriving(consult.cast.osk, later(minutes=9)) as arrival:
        consult.give(
            DRIP, 4, "mcg/min", status="running", concentration=STRENGTH, now=later(minutes=9), arrival=arrival
        )
        for minute in (2, 5, 8):
            consult.vitals(at=later(minutes=minute), now=later(minutes=9), sbp=90, dbp=54, arrival=arrival)

    assert (due(consult), overdue(consult)) == (["13"], [])
    assert [line["kind"] for line in consult.journal].count("reassessment.renewed") == 1


def test_what_the_hospital_started_asks_as_well(consult: Consult) -> None:
    """Started an hour ago; the crew took its first pressure at 11:59."""
    consult.vitals(at=earlier(minutes=1), sbp=96, dbp=56)
    before = {"status": "running", "concentration": STRENGTH, "prior": True, "prior_by": "hospital"}
    given = consult.give(DRIP, 4, "mcg/min", at=earlier(minutes=60), now=NOON, **before)
    assert given.resource.reassessment.due_at == later(minutes=4)
    consult.vitals(at=later(minutes=5), hr=100)
    alerts.sweep(later(minutes=6))

    assert overdue(consult) == ["No pressure while norepinephrine infusion runs, due 12:04 UTC"]


def test_what_the_hospital_started_and_nobody_measured_is_told_with_the_entry(consult: Consult) -> None:
    """The case was opened at 11:40."""
    before = {"status": "running", "concentration": STRENGTH, "prior": True, "prior_by": "hospital"}
    consult.give(DRIP, 4, "mcg/min", at=earlier(minutes=60), now=NOON, **before)

    assert overdue(consult) == ["No pressure after norepinephrine infusion, due 11:43 UTC"]


def test_a_case_that_has_ended_asks_no_more(consult: Consult) -> None:
    started(consult)
    cases.close(consult.cast.osk, consult.uid, {"outcome": "handed_over"}, later(minutes=1))
    pressure(consult, 2)

    assert "reassessment.renewed" not in [line["kind"] for line in consult.journal]


@pytest.mark.parametrize("systolic", [139, 140])
def test_a_two_year_old_whose_pressure_overshoots_is_told_at_once(cast: Cast, systolic: int) -> None:
    """A danger from 140 on; after a push what is too high at all, from 125 on, is told too."""
    lotte = open_consult(cast, child(2, 12))
    lotte.vitals(at=earlier(minutes=1), sbp=60, dbp=34, hr=104)
    lotte.give("epinephrine-push-dose", 6, "mcg", at=NOON)
    lotte.vitals(at=later(minutes=1), sbp=systolic, dbp=70, hr=110)
    found = [(each["kind"], each["priority"]) for each in lotte.card["alerts"] if each["kind"] != "dose_outside_limits"]

    assert found == [("high_pressure" if systolic >= 140 else "after_pressor", "high")]
    assert lotte.card["vitals"]["derived"]["alarming"]["sbp"] == ("danger" if systolic >= 140 else "warning")
