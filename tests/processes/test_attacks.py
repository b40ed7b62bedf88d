"""While one client holds on to all the connections it can get, a crew's vitals are taken and a board gets its card."""

from __future__ import annotations

import http.client
import json
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

import httpx
import pytest
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import ClientConnection, connect

from tests.depth import thinned
from tests.processes.attacker import Attack, Hold, idle, slow_head, slow_post, socket
from tests.processes.board_process import BoardProcess, prepared, running_board, wait_for

pytestmark = [pytest.mark.processes, pytest.mark.xdist_group("attacks")]
SETS = 5
SOON = 4.0  # s: longer than any set may take, and any card
ADULT = {"age": {"value": 58, "unit": "years"}, "weight": {"value": 80, "unit": "kg"}}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("a")


@pytest.fixture(scope="module")
def accounts(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    return prepared(folder, tmp_path_factory)


@pytest.fixture(scope="module")
def running(folder: Path, accounts: dict[str, Any]) -> Iterator[BoardProcess]:
    with running_board(folder) as board:
        yield board


class Shift:
    """A crew that posts and a physician whose board is open, as programs of their own, each with a deadline."""

    def __init__(self, base: str, live: str, accounts: dict[str, Any]) -> None:
        self.base, self.live, self.accounts = base, live, accounts
        self.case = str(uuid4())
        opened = {"id": self.case, "opened_at": moment(), "patient": ADULT}
        self.post("cases/", opened)

    def post(self, path: str, body: dict[str, Any]) -> int:
        """Post as the crew, on a connection of its own, as after a radio shadow; the seq in the answer."""
        headers = {"Authorization": f"Token {self.accounts['crew']['token']}"}
        answer = httpx.post(f"{self.base}/api/v1/{path}", json=body, headers=headers, timeout=SOON)
        assert answer.status_code == 201, answer.text
        seq: int = answer.json()["seq"]
        return seq

    def board(self) -> ClientConnection:
        headers = {"Authorization": f"Token {self.accounts['physician']['token']}"}
        return connect(f"{self.live}/ws/board/", additional_headers=headers, open_timeout=SOON)

    def goes_on(self, board: ClientConnection) -> None:
        """Each set is taken soon, and soon on the open board; and so on a board that is opened now."""
        for number in range(SETS):
            seq = self.post(f"cases/{self.case}/vitals/", {"id": str(uuid4()), "taken_at": moment(), "hr": 90 + number})
            self.shows(board, seq)
        with self.board() as another:
            self.shows(another, seq)

    def shows(self, board: ClientConnection, seq: int) -> None:
        """Wait until this board holds the card of this seq."""
        end = time.monotonic() + SOON
        while time.monotonic() < end:
            news = json.loads(board.recv(timeout=max(0.0, end - time.monotonic())))
            cards = news["cases"] if news["type"] == "hello" else [news.get("card")]
            if any(card and card["case"] == self.case and card["seq"] >= seq for card in cards):
                return
        raise AssertionError(f"the card {seq} did not come")


def moment() -> str:
    """Now, as the API wants it."""
    return datetime.now(UTC).isoformat()


Made = Callable[[dict[str, Any]], Hold]
ATTACKS: list[Any] = [
    pytest.param(1000, lambda _: idle, id="1,000 idle connections"),
    pytest.param(1000, lambda _: slow_head("/board/"), id="1,000 slow heads"),
    pytest.param(2000, lambda _: slow_post("/sign-in/"), id="2,000 slow sign-ins"),
    pytest.param(
        40, lambda them: slow_post("/api/v1/cases/", them["crew2"]["token"]), id="40 slow uploads of one token"
    ),
    pytest.param(
        1000,
        lambda them: socket("/ws/board/", them["outsider"]["physician"]["token"]),
        id="1,000 sockets of one token of another agency",
    ),
    pytest.param(1000, lambda _: socket("/ws/board/"), id="1,000 sockets of nobody"),
]


@pytest.mark.parametrize(("count", "made"), list(thinned(ATTACKS, every=2, first=1)))
def test_one_client_cannot_take_the_board_down(
    running: BoardProcess, accounts: dict[str, Any], count: int, made: Made
) -> None:
    shift = Shift(running.base, running.base.replace("http", "ws"), accounts)
    with shift.board() as board, Attack(running.port, count, made(accounts)):
        shift.goes_on(board)


def test_a_membership_has_at_most_twenty_sockets_and_the_next_comes_again_later(
    running: BoardProcess, accounts: dict[str, Any]
) -> None:
    headers = {"Authorization": f"Token {accounts['outsider']['physician']['token']}"}
    address = f"{running.base.replace('http', 'ws')}/ws/board/"
    wait_for(lambda: _code(address, headers) is None)  # those of the attack before have gone
    with ExitStack() as nineteen, connect(address, additional_headers=headers) as last:
        others = [nineteen.enter_context(connect(address, additional_headers=headers)) for _ in range(19)]
        assert [json.loads(each.recv())["type"] for each in (*others, last)] == ["hello"] * 20
        assert _code(address, headers) == 1013
        last.close()
        wait_for(lambda: _code(address, headers) is None)


def _code(address: str, headers: dict[str, str]) -> int | None:
    """The code that a socket is closed with; None where it is shown the board."""
    with connect(address, additional_headers=headers) as watching:
        try:
            watching.recv(timeout=SOON)
        except ConnectionClosed:
            return watching.close_code
    return None


@pytest.mark.parametrize(("path", "kind"), [("/sign-in/", "text/html"), ("/api/v1/cases/", "application/problem+json")])
def test_a_body_without_end_is_refused_before_anybody_has_signed_in(running: BoardProcess, path: str, kind: str):
    client = http.client.HTTPConnection("127.0.0.1", running.port, timeout=SOON)
    client.request("POST", path, body=(b"x" * 65536 for _ in range(32)), encode_chunked=True)
    answer = client.getresponse()
    assert answer.status == 413
    assert answer.headers["Content-Type"].startswith(kind)
    assert answer.headers["Content-Security-Policy"]
    client.close()
