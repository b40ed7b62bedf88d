"""Alerts: one per cause, raised with the write or by the sweep, acknowledged by name, cleared with the cause."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import IntegrityError, transaction

from consult import problems, queries
from consult.actions import alerts, batch, cases, corrections
from consult.models import Alert, Case, Heartbeat
from tests.conftest import NOON, Cast, Consult, earlier, later, open_consult

PUSH = "epinephrine-push-dose"


def open_alert(consult: Consult, kind: str) -> dict[str, Any]:
    return next(alert for alert in consult.card["alerts"] if alert["kind"] == kind)


def acknowledge(consult: Consult, kind: str, *, by: str = "merrin", at: Any = NOON) -> Any:
    uid = UUID(open_alert(consult, kind)["id"])
    return alerts.acknowledge(getattr(consult.cast, by), uid, {"id": uuid4(), "note": ""}, at)


class TestOverdueReassessment:
    """A push dose asks for a pressure 2 minutes after, with 60 s of grace (demonstration rules)."""

    def test_it_is_raised_by_the_sweep_once_due(self, consult: Consult) -> None:
        consult.give(PUSH, 10, "mcg")

        alerts.sweep(later(minutes=2, seconds=59))
        assert "reassessment_overdue" not in consult.alerts
        alerts.sweep(later(minutes=3, seconds=1))
        assert "reassessment_overdue" in consult.alerts
        assert open_alert(consult, "reassessment_overdue")["priority"] == "high"

    def test_it_is_raised_once_however_often_the_sweep_runs(self, consult: Consult) -> None:
        consult.give(PUSH, 10, "mcg")
        for second in range(200, 230):
            alerts.sweep(later(seconds=second))

        assert Alert.objects.filter(kind="reassessment_overdue").count() == 1

    def test_a_reading_that_arrives_late_clears_it(self, consult: Consult) -> None:
        consult.give(PUSH, 10, "mcg")
        alerts.sweep(later(minutes=4))
        consult.vitals(at=later(minutes=2), now=later(minutes=5), sbp=92, dbp=56, hr=104)

        assert "reassessment_overdue" not in consult.alerts
        assert consult.card["reassessments"] == []
        assert {"reassessment.moved", "alert.cleared"} <= set(consult.kinds)

    def test_a_dose_recorded_late_is_overdue_at_once(self, consult: Consult) -> None:
        consult.give(PUSH, 10, "mcg", at=earlier(minutes=4), now=NOON)

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


class TestAcknowledging:
    def test_it_is_by_name_and_leaves_a_state_open(self, consult: Consult) -> None:
        consult.vitals(sbp=70, dbp=30)
        written = acknowledge(consult, "low_pressure")

        assert written.resource["acknowledged"] == {"by": "Dr. Merrin", "at": "2030-01-05T12:00:00Z"}
        assert open_alert(consult, "low_pressure")["acknowledged"]["by"] == "Dr. Merrin"

    def test_it_ends_a_happening(self, consult: Consult) -> None:
        consult.vitals(sbp=80, dbp=40)
        consult.give(PUSH, 30, "mcg")
        assert "dose_outside_limits" in consult.alerts
        acknowledge(consult, "dose_outside_limits")

        assert "dose_outside_limits" not in consult.alerts

    def test_a_second_name_does_not_replace_the_first(self, consult: Consult) -> None:
        consult.vitals(sbp=70, dbp=30)
        acknowledge(consult, "low_pressure")
        again = acknowledge(consult, "low_pressure", by="quillan", at=later(minutes=1))

        assert again.resource["acknowledged"]["by"] == "Dr. Merrin"

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

    def test_a_case_that_was_handed_over_is_quiet(self, consult: Consult) -> None:
        cases.handover(consult.cast.osk, consult.uid, {"to": "Marrowby General", "at": NOON}, NOON)
        alerts.sweep(later(minutes=30))

        assert consult.alerts == set()


def test_a_corrected_dose_takes_its_alert_and_reassessment_along(consult: Consult) -> None:
    consult.vitals(sbp=80, dbp=40)
    given = consult.give(PUSH, 300, "mcg")
    target = {"kind": "intervention", "id": UUID(given.resource["id"])}
    corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), "target": target, "reason": "30 meant"}, NOON)

    assert "dose_outside_limits" not in consult.alerts
    assert consult.card["reassessments"] == []
    assert consult.card["given"] == []
    assert consult.card["doses"][0]["in_error"]


def test_a_clock_that_is_off_is_for_the_supervisor(consult: Consult) -> None:
    batch.note_clock_offset(consult.cast.osk, 240, [consult.uid], NOON)

    alert = open_alert(consult, "clock_offset")
    assert (alert["priority"], alert["text"]) == ("low", "The unit's clock is 4 min ahead of the server's")


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
        Case.objects.filter(uid=broken.uid).update(facts="{")

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
