"""The sweep when it fails: how long a case waits then, so that no alert is late for what the database had."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import OperationalError

from consult.actions import alerts
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
