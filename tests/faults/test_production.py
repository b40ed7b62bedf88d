"""The board in production while its database is cut off or one of its processes dies (design, figures to hold)."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import Any
from uuid import uuid4

import httpx
import pytest

from tests.bench.places import fresh_database
from tests.faults.crews import Crew
from tests.faults.production import Production
from tests.processes.board_process import wait_for

LATEST = timedelta(seconds=10)
CUTS = 20
pytestmark = pytest.mark.xdist_group("production")  # one board for all of them


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Production]:
    name = f"consult_faults_{uuid4().hex[:8]}"
    with fresh_database(name), Production(name, tmp_path_factory.mktemp("production")) as running:
        yield running


@pytest.fixture(scope="module")
def accounts(board: Production) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(board.manage("demo_accounts", "--json"))
    return made


def test_a_database_that_is_cut_off_costs_no_accepted_set(board: Production, accounts: dict[str, Any]) -> None:
    crews = [Crew(board.base, accounts[name]["token"]) for name in ("crew", "crew2")]
    ended = threading.Event()
    for crew in crews:
        crew.open()
    threads = [threading.Thread(target=crew.post_until, args=(ended,)) for crew in crews]
    for thread in threads:
        thread.start()
    cut = 0
    try:
        for _ in range(CUTS):
            for crew in crews:
                wait_for(partial(_goes_on, crew, len(crew.accepted)))
            cut += board.cut_the_database_off()
    finally:
        ended.set()
        for thread in threads:
            thread.join()

    assert cut >= CUTS
    wait_for(board.ready, 10)
    for crew in crews:
        assert {answer for answer in crew.refusals if answer != (503, "application/problem+json")} == set()
        assert crew.accepted <= set(crew.stored()) <= set(crew.sent)
        crew.send_again(set(crew.sent) - crew.accepted)
        assert sorted(crew.stored()) == sorted(crew.sent)
    assert "The journal is intact." in board.manage("verify_journal")


@pytest.mark.parametrize("victim", ["worker", "beat", "second-trigger"])
def test_an_alert_comes_in_time_while_a_process_is_dead(
    board: Production, accounts: dict[str, Any], victim: str
) -> None:
    api = httpx.Client(
        base_url=f"{board.base}/api/v1/", headers={"Authorization": f"Token {accounts['crew']['token']}"}, timeout=10
    )
    case, due = str(uuid4()), datetime.now(UTC) + timedelta(seconds=4)
    patient = {"age": {"value": 58, "unit": "years"}, "weight": {"value": 80, "unit": "kg"}}
    api.post("cases/", json={"id": case, "opened_at": _ago(minutes=20), "patient": patient}).raise_for_status()
    # A push dose asks for a pressure within 2 minutes and 180 s of grace (demonstration rules).
    dose = {"treatment": "epinephrine-push-dose", "amount": {"value": 10, "unit": "mcg"}, "route": "IV"}
    given_at = (due - timedelta(minutes=5)).isoformat()
    asked = api.post(f"cases/{case}/interventions/", json={**dose, "given_at": given_at})
    overdue_at = datetime.fromisoformat(asked.json()["reassessment"]["overdue_at"])
    board.kill(victim)
    try:
        raised = wait_for(lambda: _raised(api, case), 20, every=0.2)
    finally:
        board.start(victim)

    assert timedelta(0) <= raised - overdue_at <= LATEST
    wait_for(board.ready, 20)


def _goes_on(crew: Crew, before: int) -> bool:
    return len(crew.accepted) > before


def _ago(**span: float) -> str:
    return (datetime.now(UTC) - timedelta(**span)).isoformat()


def _raised(api: httpx.Client, case: str) -> datetime | None:
    for alert in api.get(f"alerts/?case={case}").json()["results"]:
        if alert["kind"] == "reassessment_overdue":
            return datetime.fromisoformat(alert["raised_at"])
    return None
