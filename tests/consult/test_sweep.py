"""While the database is away: no alert is late for it, and none is raised for what it could not write down."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import OperationalError

from consult.actions import accounts, alerts
from tests.conftest import Consult, later


@pytest.mark.parametrize(
    ("fault", "after"),
    [(OperationalError("the connection is lost"), 1), (ValueError("of this case alone"), 30)],
    ids=["the database was away", "the case cannot be settled"],
)
def test_an_outage_puts_an_alert_off_by_a_second_and_a_fault_of_its_case_by_more(
    consult: Consult, monkeypatch: pytest.MonkeyPatch, fault: Exception, after: int
) -> None:
    def fails(*_: Any) -> None:
        raise fault

    consult.vitals(sbp=92, dbp=56, hr=104)
    lost, kind = later(minutes=5), "no_contact"
    with monkeypatch.context() as failing:
        failing.setattr(alerts, "let_time_work", fails)
        alerts.sweep(lost)
    alerts.sweep(lost + timedelta(seconds=after - 0.5))
    assert kind not in consult.alerts
    alerts.sweep(lost + timedelta(seconds=after))
    assert kind in consult.alerts


def test_a_contact_that_an_outage_took_is_noted_by_the_next_request(
    consult: Consult, monkeypatch: pytest.MonkeyPatch
) -> None:
    def away() -> None:
        raise OperationalError("the connection is lost")

    unit, heard = consult.cast.osk.unit, later(minutes=2)
    with monkeypatch.context() as failing:
        failing.setattr(accounts.transaction, "atomic", away)
        with pytest.raises(OperationalError):
            accounts.note_contact(unit, heard)
    accounts.note_contact(unit, heard + timedelta(seconds=1))

    assert consult.row.last_contact_at == heard + timedelta(seconds=1)
