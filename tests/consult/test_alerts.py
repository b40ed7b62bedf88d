"""Alerts: one per cause, raised with the write or by the sweep, acknowledged by name, cleared with the cause."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import IntegrityError, transaction

from consult import problems, queries
from consult.actions import accounts, alerts, cases, corrections, interventions
from consult.actions.carry_out import Arrival
from consult.clock import stamp
from consult.models import Alert, Case, Heartbeat, Reassessment
from consult.state.parts import Acknowledged
from tests.conftest import NOON, Cast, Consult, earlier, later, open_consult

PUSH = "epinephrine-push-dose"


def open_alert(consult: Consult, kind: str) -> dict[str, Any]:
    return next(alert for alert in consult.card["alerts"] if alert["kind"] == kind)


def acknowledge(consult: Consult, kind: str, *, by: str = "merrin", at: Any = NOON) -> Any:
    uid = UUID(open_alert(consult, kind)["id"])
    return alerts.acknowledge(getattr(consult.cast, by), uid, {"id": uuid4(), "note": ""}, at)


def correct_dose(consult: Consult, given: Any, at: Any) -> None:
    correct(consult, "intervention", given, at)


def correct(consult: Consult, kind: str, entry: Any, at: Any) -> None:
    target = {"kind": kind, "id": UUID(entry.resource.id)}
    corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), "target": target, "reason": "not given"}, at)


def rate(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mcg/kg/min"}


def new_rate(consult: Consult, given: Any, value: float, at: Any, **more: Any) -> Any:
    data = {"id": uuid4(), "at": at, "amount": rate(value)}
    return interventions.change_intervention(consult.cast.osk, UUID(given.resource.id), data, at)


def test_a_rate_over_the_hard_limit_is_told_although_an_earlier_one_waits_for_notice(consult: Consult) -> None:
    """Hard limit of norepinephrine 1 mcg/kg/min (demonstration rules): told anew, and acknowledged anew."""
    consult.vitals(sbp=80, dbp=40)
    strength = {"value": 16, "unit": "mcg/mL"}
    drip = consult.give("norepinephrine-infusion", 0.15, "mcg/kg/min", status="running", concentration=strength)
    first = open_alert(consult, "dose_outside_limits")
    changed = new_rate(consult, drip, 5, later(minutes=1))
    again = open_alert(consult, "dose_outside_limits")

    assert changed.resource.check.verdict == "over_hard_limit"
    assert "needs an order to start" in first["text"]
    assert "5 mcg/kg/min" in again["text"]
    assert "over the hard limit of 1 mcg/kg/min" in again["text"]
    assert (again["id"], again["acknowledged"], again["raised_at"]) == (first["id"], None, stamp(later(minutes=1)))
    (running,) = consult.card["running"]
    assert running["verdict"] == "over_hard_limit"
    acknowledge(consult, "dose_outside_limits", at=later(minutes=2))
    assert "dose_outside_limits" not in consult.alerts


def test_less_of_what_runs_waits_for_no_reading_and_raises_nothing(consult: Consult) -> None:
    """From 5 to 0.2 mcg/kg/min before any reading: less waits for none, and nobody is alarmed by the reduction."""
    consult.vitals(sbp=80, dbp=40)
    strength = {"value": 16, "unit": "mcg/mL"}
    drip = consult.give("norepinephrine-infusion", 5, "mcg/kg/min", status="running", concentration=strength)
    acknowledge(consult, "dose_outside_limits")
    lowered = new_rate(consult, drip, 0.2, later(minutes=1))

    codes = {each.code for each in lowered.resource.check.findings}
    assert "no_pressure_since_last_dose" not in codes
    assert "dose_outside_limits" not in consult.alerts
    new_rate(consult, drip, 0.6, later(minutes=2))
    assert "0.6 mcg/kg/min is over" in open_alert(consult, "dose_outside_limits")["text"]
    new_rate(consult, drip, 0.55, later(minutes=3))
    assert "0.55 mcg/kg/min is over" in open_alert(consult, "dose_outside_limits")["text"]


def test_a_rate_that_comes_in_a_batch_is_told_anew_too(consult: Consult) -> None:
    consult.vitals(sbp=80, dbp=40)
    strength = {"value": 16, "unit": "mcg/mL"}
    drip = consult.give("norepinephrine-infusion", 0.15, "mcg/kg/min", status="running", concentration=strength)
    new_rate(consult, drip, 5, later(minutes=1), arrival=Arrival())

    assert "5 mcg/kg/min is over the hard limit" in open_alert(consult, "dose_outside_limits")["text"]


class TestOverdueReassessment:
    """A push dose asks for a pressure 2 minutes after, with 180 s of grace (demonstration rules)."""

    def test_it_is_raised_by_the_sweep_once_due(self, consult: Consult) -> None:
        consult.give(PUSH, 10, "mcg")

        alerts.sweep(later(minutes=4, seconds=59))
        assert "reassessment_overdue" not in consult.alerts
        consult.vitals(at=later(minutes=5), hr=104)  # its crew is in contact; a rate is no pressure
        alerts.sweep(later(minutes=5, seconds=1))
        assert "reassessment_overdue" in consult.alerts
        assert open_alert(consult, "reassessment_overdue")["priority"] == "high"

    def test_it_is_raised_once_however_often_the_sweep_runs(self, consult: Consult) -> None:
        consult.give(PUSH, 10, "mcg")
        consult.vitals(at=later(seconds=290), hr=104)
        for second in range(300, 330):
            alerts.sweep(later(seconds=second))

        assert Alert.objects.filter(kind="reassessment_overdue").count() == 1

    def test_a_dose_recorded_after_its_reading_is_done_at_once(self, consult: Consult) -> None:
        consult.vitals(sbp=92, dbp=56, hr=104)
        given = consult.give(PUSH, 10, "mcg", at=earlier(minutes=2), now=later(seconds=10))

        asked = given.resource.reassessment
        assert (asked.state, asked.done_at) == ("done", NOON)
        assert consult.card["reassessments"] == []

    def test_a_reading_that_arrives_late_clears_it(self, consult: Consult) -> None:
        consult.give(PUSH, 10, "mcg")
        consult.vitals(at=later(minutes=4), hr=104)
        alerts.sweep(later(minutes=5))
        consult.vitals(at=later(minutes=2), now=later(minutes=6), sbp=92, dbp=56, hr=104)

        assert "reassessment_overdue" not in consult.alerts
        assert consult.card["reassessments"] == []
        assert {"reassessment.moved", "alert.cleared"} <= set(consult.kinds)

    def test_a_dose_recorded_late_is_overdue_at_once(self, consult: Consult) -> None:
        given = consult.give(PUSH, 10, "mcg", at=earlier(minutes=5), now=NOON)

        assert given.resource.reassessment.state == "overdue"

        assert "reassessment_overdue" in consult.alerts


class TestLowPressure:
    @pytest.mark.parametrize(
        ("pressures", "priority"),
        [
            ([(70, 30)], "high"),
            ([(96, 44)], None),
            ([(96, 44), (94, 46)], "medium"),
            ([(96, 44), (70, 30)], "high"),
            ([(70, 30), (110, 70), (112, 70)], None),
        ],
        ids=["critical at once", "below goal once", "below goal twice", "getting worse", "recovered"],
    )
    def test_one_alert_whose_priority_moves(
        self, consult: Consult, pressures: list[tuple[int, int]], priority: str | None
    ) -> None:
        for minute, (sbp, dbp) in enumerate(pressures):
            consult.vitals(at=later(minutes=minute), sbp=sbp, dbp=dbp)

        low = [alert["priority"] for alert in consult.card["alerts"] if alert["kind"] == "low_pressure"]
        assert low == ([priority] if priority else [])

    @pytest.mark.parametrize("dbps", [(55, 40), (40, 38, 75, 40, 38)], ids=["once below 65", "back within 10 min"])
    def test_what_another_goal_has_raised_lasts_while_the_pressure_is_below_the_former_one(
        self, consult: Consult, dbps: tuple[int, ...]
    ) -> None:
        """Systolic 105: MAP 61.7 and 60.3 are below both 90 and 65, 71.7 and 85 below 90 alone."""
        for minute, dbp in enumerate(dbps):
            consult.vitals(at=later(minutes=minute), sbp=105, dbp=dbp)
        for minute, floor in ((6, 90), (7, 65), (8, 60)):
            goal = {"id": uuid4(), "measure": "map", "floor": floor, "reason": "head injury"}
            cases.set_goal(consult.cast.merrin, consult.uid, goal, later(minutes=minute))
            if floor > 60:
                assert open_alert(consult, "low_pressure")["text"] == f"MAP below goal {floor}"

        assert "low_pressure" not in consult.alerts
        assert Alert.objects.filter(kind="low_pressure").latest("raised_at").cleared_because == "the goal is now MAP 60"


class TestAcknowledging:
    def test_it_is_by_name_and_leaves_a_state_open(self, consult: Consult) -> None:
        consult.vitals(sbp=70, dbp=30)
        written = acknowledge(consult, "low_pressure")

        assert written.resource.acknowledged == Acknowledged("Dr. Merrin", NOON)
        assert open_alert(consult, "low_pressure")["acknowledged"]["by"] == "Dr. Merrin"

    def test_it_ends_a_happening(self, consult: Consult) -> None:
        consult.vitals(sbp=80, dbp=40)
        consult.give(PUSH, 30, "mcg")
        assert "dose_outside_limits" in consult.alerts
        acknowledge(consult, "dose_outside_limits")

        assert "dose_outside_limits" not in consult.alerts

    def test_a_happening_that_was_taken_notice_of_is_answered_as_it_stands(self, consult: Consult) -> None:
        consult.vitals(sbp=80, dbp=40)
        consult.give(PUSH, 30, "mcg")
        uid = UUID(open_alert(consult, "dose_outside_limits")["id"])
        first, again = (alerts.acknowledge(consult.cast.merrin, uid, {"id": uuid4()}, NOON) for _ in range(2))

        assert first.resource.cleared_because == "acknowledged by Dr. Merrin"
        assert again.resource == first.resource

    def test_a_cause_that_went_by_itself_wants_no_notice(self, consult: Consult) -> None:
        consult.vitals(sbp=70, dbp=30)
        uid = UUID(open_alert(consult, "low_pressure")["id"])
        consult.vitals(at=later(minutes=1), sbp=120, dbp=80)
        with pytest.raises(problems.WrongState):
            alerts.acknowledge(consult.cast.merrin, uid, {}, later(minutes=2))

    def test_a_second_name_does_not_replace_the_first(self, consult: Consult) -> None:
        consult.vitals(sbp=70, dbp=30)
        acknowledge(consult, "low_pressure")
        again = acknowledge(consult, "low_pressure", by="quillan", at=later(minutes=1))

        assert again.resource.acknowledged.by == "Dr. Merrin"

    def test_it_is_not_for_crews(self, consult: Consult) -> None:
        consult.vitals(sbp=70, dbp=30)
        with pytest.raises(problems.Forbidden):
            acknowledge(consult, "low_pressure", by="osk")


class TestEscalation:
    def test_it_goes_to_the_others_and_then_to_the_supervisor(self, consult: Consult) -> None:
        consult.vitals(sbp=70, dbp=30)

        alerts.sweep(later(seconds=59))
        assert open_alert(consult, "low_pressure")["escalated_to"] is None
        alerts.sweep(later(seconds=61))
        assert open_alert(consult, "low_pressure")["escalated_to"] == "physicians"
        alerts.sweep(later(seconds=122))
        assert open_alert(consult, "low_pressure")["escalated_to"] == "supervisor"

    def test_it_waits_while_a_physician_is_at_the_case(self, consult: Consult) -> None:
        consult.vitals(sbp=70, dbp=30)
        cases.accept(consult.cast.merrin, consult.uid, {}, later(seconds=30))
        alerts.sweep(later(seconds=100))

        assert open_alert(consult, "low_pressure")["escalated_at"] is None

    def test_what_is_acknowledged_goes_nowhere(self, consult: Consult) -> None:
        consult.vitals(sbp=70, dbp=30)
        acknowledge(consult, "low_pressure")
        alerts.sweep(later(minutes=4))

        assert open_alert(consult, "low_pressure")["escalated_at"] is None


class TestContact:
    def test_a_quiet_unit_is_news_after_five_minutes(self, consult: Consult) -> None:
        consult.vitals(sbp=110, dbp=70)
        alerts.sweep(later(minutes=5, seconds=1))

        assert "no_contact" in consult.alerts
        consult.vitals(at=later(minutes=6), sbp=110, dbp=70)
        assert "no_contact" not in consult.alerts

    def test_any_request_of_the_unit_ends_the_silence(self, consult: Consult) -> None:
        alerts.sweep(later(minutes=5, seconds=1))
        accounts.note_contact(consult.cast.osk.unit, later(minutes=6))
        alerts.sweep(later(minutes=6, seconds=1))

        assert "no_contact" not in consult.alerts

    def test_a_case_that_was_handed_over_is_quiet(self, consult: Consult) -> None:
        cases.handover(consult.cast.osk, consult.uid, {"to": "Marrowby General", "at": NOON}, NOON)
        alerts.sweep(later(minutes=30))

        assert consult.alerts == set()


class TestTheEndOfACase:
    """A dose outside its limits is news until somebody has taken notice, also after the transport."""

    def test_nobodys_notice_leaves_it_to_the_supervisor(self, consult: Consult) -> None:
        consult.vitals(sbp=80, dbp=40)
        consult.give(PUSH, 30, "mcg")
        cases.close(consult.cast.osk, consult.uid, {"outcome": "handed_over"}, later(seconds=10))
        assert consult.alerts == {"dose_outside_limits"}

        alerts.sweep(later(seconds=61))
        alerts.sweep(later(seconds=122))
        assert open_alert(consult, "dose_outside_limits")["escalated_to"] == "supervisor"
        acknowledge(consult, "dose_outside_limits", by="averill", at=later(minutes=30))
        assert (consult.alerts, consult.row.wake_at) == (set(), None)

    def test_one_told_of_afterward_is_raised_too(self, consult: Consult) -> None:
        cases.close(consult.cast.osk, consult.uid, {"outcome": "handed_over"}, NOON)
        consult.give(PUSH, 30, "mcg", at=earlier(minutes=5), now=later(minutes=5))

        assert consult.alerts == {"dose_outside_limits"}


def test_a_corrected_dose_takes_its_alert_and_reassessment_along(consult: Consult) -> None:
    consult.vitals(sbp=80, dbp=40)
    correct_dose(consult, consult.give(PUSH, 300, "mcg"), NOON)

    assert "dose_outside_limits" not in consult.alerts
    assert consult.card["reassessments"] == []
    assert consult.card["given"] == []
    assert consult.card["doses"][0]["in_error"]


def test_a_clock_that_is_off_is_for_the_supervisor(consult: Consult) -> None:
    consult.vitals(hr=90, clock_offset_s=-240)

    alert = Alert.objects.get(kind="clock_offset")
    assert (alert.priority, alert.text) == ("low", "The clock of J. Osk is 4 min ahead of the server's")
    assert "clock_offset" not in consult.alerts
    assert consult.journal[1]["data"]["clock_offset_s"] == -240
    consult.vitals(hr=91, clock_offset_s=-250)
    consult.vitals(hr=92)
    assert Alert.objects.get(kind="clock_offset").cleared_at is None
    consult.vitals(hr=93, clock_offset_s=0.2)
    assert Alert.objects.get(kind="clock_offset").cleared_because == "the clock agrees again"
    assert (
        "clock_offset_s"
        not in next(each for each in reversed(consult.journal) if each["kind"] == "vitals.recorded")["data"]
    )


class TestAfterACorrection:
    def test_a_reassessment_is_completed_by_what_is_left(self, consult: Consult) -> None:
        consult.give(PUSH, 10, "mcg")
        wrong = consult.vitals(at=later(seconds=90), sbp=90, dbp=60, hr=110)
        consult.vitals(at=later(seconds=110), sbp=92, dbp=60, hr=112)
        correct(consult, "vitals", wrong, later(seconds=120))

        assert consult.card["reassessments"] == []
        assert Reassessment.objects.get().done_at == later(seconds=110)

    def test_a_part_of_it_that_was_wrong_is_asked_for_again(self, consult: Consult) -> None:
        consult.give(PUSH, 10, "mcg")
        wrong = consult.vitals(at=later(seconds=90), sbp=92, dbp=60)
        consult.vitals(at=later(seconds=110), hr=110)
        assert consult.card["reassessments"] == []
        correct(consult, "vitals", wrong, later(seconds=120))

        assert [each["state"] for each in consult.card["reassessments"]] == ["waiting"]

    def test_a_dose_that_was_not_given_leaves_the_one_before_in_time(self, consult: Consult) -> None:
        consult.give(PUSH, 10, "mcg")
        second = consult.give(PUSH, 10, "mcg", at=later(seconds=90))
        assert "reassessment_overdue" in consult.alerts
        correct_dose(consult, second, later(seconds=100))

        assert "reassessment_overdue" not in consult.alerts
        assert [each["state"] for each in consult.card["reassessments"]] == ["waiting"]
        consult.vitals(at=later(minutes=4), hr=104)
        alerts.sweep(later(minutes=5, seconds=1))
        assert "reassessment_overdue" in consult.alerts

    def test_another_further_dose_keeps_it_overdue(self, consult: Consult) -> None:
        consult.give(PUSH, 10, "mcg")
        second = consult.give(PUSH, 10, "mcg", at=later(seconds=80))
        consult.give(PUSH, 10, "mcg", at=later(seconds=90))
        correct_dose(consult, second, later(seconds=100))

        assert [each["state"] for each in consult.card["reassessments"]] == ["overdue", "waiting"]
        assert Alert.objects.filter(kind="reassessment_overdue", cleared_at=None).count() == 1


def test_the_database_holds_one_open_alert_per_cause(consult: Consult) -> None:
    consult.vitals(sbp=70, dbp=30)
    known = Alert.objects.get()
    known.pk, known.uid = None, uuid4()
    with pytest.raises(IntegrityError), transaction.atomic():
        known.save(force_insert=True)


class TestSweep:
    def test_it_leaves_a_heartbeat(self, db: None) -> None:
        alerts.sweep(NOON)
        assert Heartbeat.objects.get(name="sweep").at == NOON

    def test_one_case_that_fails_stops_no_other(self, cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
        broken, sound = open_consult(cast), open_consult(cast)
        Case.objects.filter(uid=broken.uid).update(folded="{")

        assert alerts.sweep(later(minutes=6)) == 1
        assert "no_contact" in sound.alerts
        assert broken.row.wake_at > later(minutes=6)

    def test_lists_tell_the_states_apart(self, consult: Consult) -> None:
        consult.vitals(sbp=70, dbp=30)
        consult.give(PUSH, 30, "mcg")
        acknowledge(consult, "low_pressure")
        acknowledge(consult, "dose_outside_limits")

        def kinds(state: str) -> list[str]:
            return [alert.kind for alert in queries.alerts(Case.objects.all(), state=state)]

        assert (kinds("raised"), kinds("acknowledged")) == ([], ["low_pressure"])
        assert "dose_outside_limits" in kinds("cleared")
