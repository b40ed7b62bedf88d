"""Vitals: kept as sent, judged, put where they belong in time, shown on the card."""

from __future__ import annotations

from datetime import datetime
from uuid import uuid4

import pytest

from consult.actions import cases
from tests.conftest import Cast, Consult, child, earlier, later, open_consult


def test_a_set_is_judged_and_stands_on_the_card(consult: Consult) -> None:
    written = consult.vitals(sbp=96, dbp=44, hr=128, lungs="clear")

    assert written.created
    assert written.resource.derived.map == 61.33
    card = consult.card
    assert card["seq"] == written.seq
    assert card["vitals"]["sbp"]["value"] == 96
    assert card["vitals"]["derived"]["pressure"]["state"] == "below_goal"
    assert [point["map"] for point in card["trend"]] == [61.33]


def test_a_late_set_changes_no_newer_value(consult: Consult) -> None:
    consult.vitals(at=later(minutes=2), sbp=110, dbp=70)
    consult.vitals(at=earlier(minutes=9), now=later(minutes=2), sbp=80, dbp=40, lungs="crackles")

    card = consult.card
    assert card["vitals"]["sbp"]["value"] == 110
    assert card["vitals"]["lungs"]["value"] == "crackles"
    assert [point["sbp"] for point in card["trend"]] == [80, 110]
    assert consult.journal[-1]["late"]


def test_the_card_never_mixes_two_sets(consult: Consult) -> None:
    consult.vitals(sbp=96, dbp=44)
    consult.vitals(at=later(minutes=1), sbp=92, bp_method="palpated")

    vitals = consult.card["vitals"]
    assert "dbp" not in vitals
    assert vitals["derived"]["map"] is None


@pytest.mark.parametrize("method", ["cuff", "manual", "arterial", "palpated"])
def test_a_set_without_a_pressure_erases_none(consult: Consult, method: str) -> None:
    consult.vitals(sbp=70, dbp=30, bp_method="cuff")
    before = consult.card
    consult.vitals(at=later(minutes=1), spo2=93, bp_method=method)

    card = consult.card
    assert card["vitals"]["spo2"]["value"] == 93
    assert {name: card["vitals"][name] for name in ("sbp", "dbp", "bp_method", "derived")} == {
        name: before["vitals"][name] for name in ("sbp", "dbp", "bp_method", "derived")
    }
    assert consult.alerts == {"low_pressure"}


def test_no_pressure_that_can_be_obtained_is_the_newest(consult: Consult) -> None:
    consult.vitals(sbp=120, dbp=80, bp_method="cuff")
    consult.vitals(at=later(minutes=1), bp_method="unobtainable", pulses="carotid")

    assert consult.card["vitals"]["derived"]["pressure"]["state"] == "critical"
    assert "sbp" not in consult.card["vitals"]


def test_a_critical_pressure_raises_its_alert_with_the_write(consult: Consult) -> None:
    written = consult.vitals(sbp=70, dbp=30)

    assert consult.alerts == {"low_pressure"}
    assert consult.card["seq"] == written.seq
    assert consult.kinds == ["case.opened", "vitals.recorded", "alert.raised"]


def test_the_trend_keeps_the_newest_sixty(consult: Consult) -> None:
    for minute in range(65):
        consult.vitals(at=later(minutes=minute), hr=60 + minute)

    assert [point["hr"] for point in consult.card["trend"]] == list(range(65, 125))


def test_heart_rates_push_no_pressure_out(consult: Consult) -> None:
    consult.vitals(sbp=70, dbp=30)
    for minute in range(1, 70):
        consult.vitals(at=later(minutes=minute / 10), hr=100)

    assert consult.alerts == {"low_pressure"}
    assert len(consult.card["trend"]) == 60


def test_a_childs_falling_pressure_crosses_the_floor_of_its_age(cast: Cast) -> None:
    consult = open_consult(cast, child(5, 18))
    for minute, sbp in enumerate((104, 101, 98, 95)):
        consult.vitals(at=later(minutes=minute), sbp=sbp, dbp=sbp - 40)

    card = consult.card
    assert card["map_slope"] == -3
    assert card["crossing_at"] is not None


def test_a_quick_pressure_takes_no_sign_from_the_card_while_its_answer_tells_its_own(consult: Consult) -> None:
    consult.vitals(sbp=96, dbp=64, cap_refill_s=5)
    quick = consult.vitals(at=later(minutes=6), sbp=98, dbp=66)

    assert quick.resource.derived.signs == ()
    assert consult.card["vitals"]["derived"]["signs"] == ["cap refill 5 s, 6 min before"]
    consult.vitals(at=later(minutes=30), sbp=98, dbp=66)

    assert consult.card["vitals"]["derived"]["signs"] == []
    assert consult.card["vitals"]["derived"]["signs_old"] == ["cap refill 5 s, 30 min before"]


def test_a_card_tells_the_goals_that_were_in_force_with_their_times(consult: Consult) -> None:
    goal = {"id": uuid4(), "measure": "map", "floor": 75, "reason": "old hypertension"}
    cases.set_goal(consult.cast.merrin, consult.uid, goal, later(minutes=4))
    first, second = consult.card["goals"]

    assert (first["since"], first["map_floor"]) == (None, 65)  # Surviving Sepsis Campaign 2021: MAP 65
    assert (datetime.fromisoformat(second["since"]), second["map_floor"]) == (later(minutes=4), 75)
