"""Late entries are judged by their place in time, and what was given after them is judged anew and told."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

from consult.actions import alerts, cards, cases, corrections
from consult.models import Alert, Intervention
from consult.rows.rows import plain
from tests.conftest import Consult, later

PUSH = "epinephrine-push-dose"


def pressure(consult: Consult, minute: float, **more: Any) -> None:
    consult.vitals(at=later(minutes=minute), now=more.pop("now", None), sbp=76, dbp=36, hr=120, **more)


def push(consult: Consult, minute: float, *, heard: float | None = None, value: float = 10, **more: Any) -> Any:
    now = later(minutes=minute if heard is None else heard)
    return plain(consult.give(PUSH, value, "mcg", at=later(minutes=minute), now=now, **more).resource)


def codes(check: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in check["findings"]}


def told(consult: Consult) -> list[tuple[str, set[str]]]:
    """The doses judged anew in the journal, in order: which, and what was found in each."""
    lines = [line["data"] for line in consult.journal if line["kind"] == "intervention.judged_anew"]
    return [(line["intervention"], codes(line["check"])) for line in lines]


def alarmed(consult: Consult) -> set[str]:
    """The doses whose alarm for lying outside limits is open."""
    return {alert["cause"] for alert in consult.card["alerts"] if alert["kind"] == "dose_outside_limits"}


def five_pushes(consult: Consult) -> list[Any]:
    """Five pushes from the 10th minute on, each after a pressure: as many as the demonstration rules let stand."""
    given = []
    for minute in range(10, 35, 5):
        pressure(consult, minute - 1)
        given.append(push(consult, minute))
    assert not any(codes(dose["check"]) & {"count_reached", "too_soon"} for dose in given)
    return given


def test_the_earliest_push_entered_last_is_the_first_and_the_last_one_the_sixth(consult: Consult) -> None:
    pressure(consult, 4)
    given = five_pushes(consult)
    earliest = push(consult, 5, heard=35)

    assert "count_reached" not in codes(earliest["check"])
    assert [(dose, found & {"count_reached"}) for dose, found in told(consult)] == [
        (given[-1]["id"], {"count_reached"})
    ]
    assert alarmed(consult) == {given[-1]["id"]}
    assert consult.row.outside_limits


def test_the_stored_check_stays_and_the_card_goes_by_the_new_one(consult: Consult) -> None:
    pressure(consult, 4)
    last = five_pushes(consult)[-1]
    earliest = push(consult, 5, heard=35)

    row = Intervention.objects.get(uid=last["id"])
    line = next(each for each in consult.journal if each["kind"] == "intervention.judged_anew")
    assert "count_reached" not in codes(row.verdict)
    assert (line["data"]["because"], line["data"]["check"]["verdict"]) == (earliest["id"], "needs_order")
    assert next(dose for dose in consult.card["doses"] if dose["id"] == last["id"])["verdict"] == "needs_order"
    assert not cards.differs(consult.row)


def test_a_dose_told_late_was_not_too_soon_but_the_one_after_it_was(consult: Consult) -> None:
    pressure(consult, 4)
    after = push(consult, 6)
    late = push(consult, 5, heard=7)

    assert "too_soon" not in codes(late["check"])
    assert [(dose, "too_soon" in found) for dose, found in told(consult)] == [(after["id"], True)]
    assert alarmed(consult) == {after["id"]}


def test_a_late_dose_taken_back_takes_with_it_what_it_changed(consult: Consult) -> None:
    pressure(consult, 4)
    last = five_pushes(consult)[-1]
    wrong = push(consult, 5, heard=35)
    target = {"kind": "intervention", "id": UUID(wrong["id"])}
    corrections.correct(
        consult.cast.osk, consult.uid, {"id": uuid4(), "target": target, "reason": "twice"}, later(minutes=36)
    )

    assert [dose for dose, _ in told(consult)] == [last["id"]] * 2
    assert "count_reached" not in told(consult)[-1][1]
    assert alarmed(consult) == set()
    assert not consult.row.outside_limits
    assert not cards.differs(consult.row)


def test_a_pressure_told_late_says_that_the_dose_after_it_was_right(consult: Consult) -> None:
    """Its alarm stays until somebody has taken notice: the contract ends it by that or by a correction."""
    pressure(consult, 4)
    push(consult, 5)
    second = push(consult, 8)
    assert "no_pressure_since_last_dose" in codes(second["check"])
    pressure(consult, 7, now=later(minutes=10))

    assert [(dose, "no_pressure_since_last_dose" in found) for dose, found in told(consult)] == [(second["id"], False)]
    assert alarmed(consult) == {second["id"]}


def test_an_alarm_that_was_acknowledged_is_raised_again_for_what_is_new(consult: Consult) -> None:
    pressure(consult, 4)
    five = five_pushes(consult)
    pressure(consult, 34)
    sixth = push(consult, 35, value=30)  # above the single most; the sixth of five
    for alert in Alert.objects.filter(kind="dose_outside_limits", cleared_at=None):
        alerts.acknowledge(consult.cast.merrin, alert.uid, {"id": uuid4()}, later(minutes=36))
    push(consult, 5, heard=37)

    assert sixth["id"] in {dose for dose, _ in told(consult)}  # now "number 7"
    assert alarmed(consult) == {five[-1]["id"]}  # for the other nothing is new but its number


def test_what_is_in_order_of_time_is_told_once(consult: Consult) -> None:
    pressure(consult, 4)
    five_pushes(consult)
    pressure(consult, 34)
    push(consult, 35)
    assert told(consult) == []


def test_what_others_gave_before_is_not_judged(consult: Consult) -> None:
    push(consult, 6, prior=True, prior_by="hospital")
    push(consult, 5, heard=7)
    assert told(consult) == []


def test_a_weight_changed_since_says_nothing_about_a_dose_of_before(consult: Consult) -> None:
    pressure(consult, 4)
    consult.give("ketamine", 40, "mg", at=later(minutes=6))
    lighter = {"patient": {"weight": {"value": 40, "unit": "kg", "basis": "measured"}}}
    cases.patch_case(consult.cast.osk, consult.uid, {"id": uuid4(), **lighter}, later(minutes=7))
    consult.vitals(at=later(minutes=5), now=later(minutes=8), spo2=95)
    assert told(consult) == []


def test_in_a_long_case_a_late_dose_is_judged_by_the_pressure_before_it(consult: Consult) -> None:
    """More sets have come since than the facts keep: the pressure of that time is read from the rows."""
    pressure(consult, 4)
    for second in range(70):
        consult.vitals(at=later(minutes=20, seconds=second), sbp=110, dbp=70)
    late = push(consult, 5, heard=25)
    assert not codes(late["check"]) & {"pressure_stale", "pressure_unknown"}
