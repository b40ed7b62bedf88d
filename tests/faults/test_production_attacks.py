"""The same attacks on the processes of docker-compose.yml themselves, without the proxy before them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any
from uuid import uuid4

import httpx
import pytest

from tests.bench.places import fresh_database
from tests.faults.production import Production
from tests.processes.attacker import Attack, idle, slow_head, slow_post, socket
from tests.processes.board_process import wait_for
from tests.processes.test_attacks import Made, Shift

pytestmark = pytest.mark.xdist_group("production")


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Production]:
    name = f"consult_attacks_{uuid4().hex[:8]}"
    with fresh_database(name), Production(name, tmp_path_factory.mktemp("production")) as running:
        running.start("live")
        wait_for(lambda: _serves(running.live_port))
        yield running


@pytest.fixture(scope="module")
def accounts(board: Production) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(board.manage("demo_accounts", "--json"))
    return made


def _serves(port: int) -> bool:
    try:
        return httpx.get(f"http://127.0.0.1:{port}/healthz", timeout=2).status_code == 200
    except httpx.HTTPError:
        return False


ATTACKS: list[Any] = [
    pytest.param("web", 1000, lambda _: idle, id="1,000 idle connections to the API"),
    pytest.param("live", 1000, lambda _: idle, id="1,000 idle connections to the pages"),
    pytest.param("web", 500, lambda _: slow_head("/api/v1/cases/"), id="500 slow heads to the API"),
    pytest.param("live", 2000, lambda _: slow_post("/sign-in/"), id="2,000 slow sign-ins"),
    pytest.param(
        "web", 40, lambda them: slow_post("/api/v1/cases/", them["crew2"]["token"]), id="40 slow uploads of one token"
    ),
    pytest.param(
        "live",
        1000,
        lambda them: socket("/ws/board/", them["outsider"]["physician"]["token"]),
        id="1,000 sockets of one token of another agency",
    ),
]


@pytest.mark.parametrize(("service", "count", "made"), ATTACKS)
def test_one_client_cannot_take_the_processes_down(
    board: Production, accounts: dict[str, Any], service: str, count: int, made: Made
) -> None:
    port = board.live_port if service == "live" else board.port
    shift = Shift(board.base, f"ws://127.0.0.1:{board.live_port}", accounts)
    with shift.board() as open_board, Attack(port, count, made(accounts)):
        shift.goes_on(open_board)
