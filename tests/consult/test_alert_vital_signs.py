"""Alerts of vital signs: raised with the write, moved, cleared by readings and corrections; the place on the board."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

from consult.actions import cards, corrections
from consult.case.fold.measured import KEPT_READINGS
from consult.models import Alert
from consult.render.card import card_html, sort_key
from tests.conftest import Cast, Consult, earlier, later, open_consult

GOOD = {"sbp": 120, "dbp": 70}


def correct(consult: Consult, written: Any) -> None:
    target = {"kind": "vitals", "id": UUID(written.resource.id)}
    corrections.correct(
        consult.cast.osk, consult.uid, {"id": uuid4(), "target": target, "reason": "probe off"}, later()
    )


def test_a_saturation_of_62_with_a_good_pressure_is_raised_with_the_reading_and_on_top(cast: Cast) -> None:
    steady, low, late = (open_consult(cast) for _ in range(3))
    steady.vitals(**GOOD, spo2=97)
    late.give("epinephrine-push-dose", 30, "mcg")  # another high alarm, of nobody in danger
    low.vitals(**GOOD, spo2=62, hr=34, rr=4)

    assert low.alerts == {"low_saturation", "slow_breathing", "vital_sign"}
    assert {alert["priority"] for alert in low.card["alerts"]} == {"high"}
    assert low.kinds[-4:] == ["vitals.recorded", "alert.raised", "alert.raised", "alert.raised"]
    assert low.card["vitals"]["derived"]["alarming"] == {"hr": "danger", "spo2": "danger", "rr": "danger"}
    assert sorted([steady.card, late.card, low.card], key=sort_key)[0]["case"] == str(low.uid)


def test_acknowledged_it_still_stands_before_the_steady(consult: Consult) -> None:
    from consult.actions import alerts

    consult.vitals(**GOOD, spo2=62)
    alerts.acknowledge(consult.cast.merrin, Alert.objects.get().uid, {}, later(seconds=9))

    assert sort_key(consult.card).startswith("4|0|")


def test_one_alert_whose_priority_moves_and_that_clears(consult: Consult) -> None:
    for minute, spo2 in enumerate((62, 87, 60, 97)):
        consult.vitals(at=later(minutes=minute), **GOOD, spo2=spo2)

    alert = Alert.objects.get(kind="low_saturation")
    assert alert.cleared_at == later(minutes=3)
    moved = [line["data"]["priority"] for line in consult.journal if line["kind"] == "alert.changed"]
    assert moved == ["medium", "high"]


def test_a_reading_in_error_takes_its_alert_along(consult: Consult) -> None:
    consult.vitals(at=earlier(minutes=5), **GOOD, spo2=96)
    wrong = consult.vitals(**GOOD, spo2=42)
    assert consult.alerts == {"low_saturation"}
    correct(consult, wrong)

    assert consult.alerts == set()
    assert consult.card["vitals"]["derived"]["alarming"] == {}


def test_an_old_danger_told_late_raises_nothing_and_is_seen(consult: Consult) -> None:
    consult.vitals(**GOOD, spo2=97)
    consult.vitals(at=earlier(minutes=10), now=later(seconds=5), **GOOD, spo2=62)

    assert consult.alerts == set()
    assert [point["spo2"] for point in consult.card["trend"]] == [62, 97]


def test_many_heart_rates_do_not_push_a_low_glucose_out(consult: Consult) -> None:
    consult.vitals(at=earlier(minutes=12), glucose_mg_dl=55)
    consult.vitals(at=earlier(minutes=11), glucose_mg_dl=56)
    for number in range(KEPT_READINGS + 1):
        consult.vitals(at=earlier(seconds=600 - 5 * number), hr=90)

    assert consult.alerts == {"vital_sign"}
    assert len(consult.card["trend"]) == KEPT_READINGS
    assert not cards.differs(consult.row)


def test_what_is_dangerous_is_marked_where_it_stands(consult: Consult) -> None:
    consult.vitals(**GOOD, spo2=62, hr=88, glucose_mg_dl=30)
    page = card_html(consult.card)

    assert page.count('data-level="danger"') == 2
    assert '<span class="vital-number">62</span><span class="sr"> dangerous</span>' in page
    assert 'Glucose <span class="vital-number">30</span> mg/dL (1.7 mmol/L)<span class="sr"> dangerous</span>' in page


def test_a_pressure_dangerously_high_stands_with_those_in_danger(cast: Cast) -> None:
    steady, high = (open_consult(cast) for _ in range(2))
    steady.vitals(**GOOD, spo2=97)
    high.vitals(sbp=232, dbp=118)

    assert high.alerts == {"high_pressure"}
    assert sorted([steady.card, high.card], key=sort_key)[0]["case"] == str(high.uid)
    assert sort_key(high.card).startswith("0|0|")
    assert "232/118" in card_html(high.card)
    assert card_html(high.card).count('data-level="danger"') == 1
