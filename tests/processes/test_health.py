"""/healthz for the proxy, /readyz for people, /metrics for a monitor."""

from datetime import timedelta

import pytest
from django.db import OperationalError

from consult import clock
from consult.actions import notifications
from consult.models import Agency, Destination, Heartbeat
from consult.service import health

pytestmark = pytest.mark.django_db


@pytest.fixture
def all_well(monkeypatch):
    """Redis answers and the sweep has just run."""
    monkeypatch.setitem(health.PROBES, "redis", lambda: "ok")
    Heartbeat.objects.create(name="sweep", at=clock.now())


def test_healthz_is_200_whatever_else_fails(client, monkeypatch):
    for name in health.PROBES:
        monkeypatch.setitem(health.PROBES, name, lambda: "fails: gone")
    assert client.get("/healthz").status_code == 200


def test_readyz_is_200_when_every_part_works(client, all_well):
    answer = client.get("/readyz")
    assert (answer.status_code, answer.json()) == (200, dict.fromkeys(health.PROBES, "ok"))


@pytest.mark.parametrize("part", ["database", "redis", "sweep", "notifications"])
def test_readyz_is_503_and_names_the_part_that_fails(client, all_well, monkeypatch, part):
    def fails():
        raise OperationalError("password of board refused")

    monkeypatch.setitem(health.PROBES, part, fails)
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json()[part] == "fails: OperationalError"
    assert b"password" not in answer.content


@pytest.mark.parametrize(("age", "status"), [(29, 200), (31, 503)])
def test_a_sweep_may_rest_for_thirty_seconds(client, all_well, age, status):
    Heartbeat.objects.update(at=clock.now() - timedelta(seconds=age))
    assert client.get("/readyz").status_code == status


def test_a_sweep_that_never_ran_is_told(client, all_well):
    Heartbeat.objects.all().delete()
    assert client.get("/readyz").json()["sweep"] == "fails: has not run yet"


def test_an_address_that_is_not_told_of_escalations_is_named_with_its_time(client, consult, all_well):
    agency = Agency.objects.get(pk=consult.cast.osk.agency)
    notifications.add(agency, "email", "duty@example.org", clock.now(), operator="root")
    since = clock.now() - timedelta(hours=1)
    Destination.objects.update(failing_since=since)
    answer = client.get("/readyz")
    assert (answer.status_code, answer.json()["notifications"]) == (503, f"fails: since {clock.stamp(since)}")


@pytest.mark.parametrize(
    ("url", "says"),
    [("", "fails: no REDIS_URL"), ("redis://127.0.0.1:1/0", "fails: ConnectionError")],
    ids=["none named", "nobody there"],
)
def test_a_redis_that_is_not_there_is_told(client, settings, url, says):
    settings.REDIS_URL = url
    assert client.get("/readyz").json()["redis"] == says


def test_metrics_are_in_prometheus_form(client):
    answer = client.get("/metrics")
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/plain")
    assert b"python_info" in answer.content


class TestMetrics:
    def test_they_count_open_cases_and_alerts_and_tell_the_sweeps_age(self, client, consult, all_well):
        consult.vitals(sbp=60, dbp=30)
        figures = client.get("/metrics").content.decode()
        assert "consult_open_cases 1.0" in figures
        assert 'consult_open_alerts{priority="high"} 1.0' in figures
        assert 'consult_task_age_seconds{task="sweep"} 0.' in figures
        assert "consult_database_up 1.0" in figures

    def test_without_the_database_they_say_so(self, client, monkeypatch):
        def gone(self):
            raise OperationalError

        monkeypatch.setattr("consult.metrics.Board._figures", gone)
        answer = client.get("/metrics")
        assert answer.status_code == 200
        assert b"consult_database_up 0.0" in answer.content

    def test_answers_are_timed_by_part_method_and_status(self, client):
        client.get("/api/v1/nothing-here/")
        client.generic("BREW", "/healthz")
        figures = client.get("/metrics").content.decode()
        assert 'consult_answer_seconds_count{method="GET",part="api",status="404"}' in figures
        assert 'method="other",part="pages"' in figures

    def test_no_figure_names_a_case_a_unit_or_a_path(self, client, consult):
        client.get(f"/api/v1/cases/{consult.uid}/")
        figures = client.get("/metrics").content.decode()
        for word in (str(consult.uid), "Kestrel", "/api/", "weak"):
            assert word not in figures
