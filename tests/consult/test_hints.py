"""A hint to the boards costs nothing but itself: a write goes through without one, and says only what is wrong."""

from __future__ import annotations

import logging
import socketserver
import threading
from typing import Any

import pytest

from consult import hints


class Answering(socketserver.StreamRequestHandler):
    """A Redis that nobody listens at: it takes one hint, then the connection is gone."""

    def handle(self) -> None:
        told: list[bytes] = self.server.told  # type: ignore[attr-defined]
        while line := self.rfile.readline():
            if b" " in line:  # the hint itself, the last line of its command
                told.append(line.strip())
                self.wfile.write(b":0\r\n")
                return
            if line.startswith(b"SETINFO"):
                self.wfile.write(b"+OK\r\n")


def test_a_connection_that_has_gone_costs_no_hint(settings: Any, monkeypatch: Any) -> None:
    monkeypatch.setattr(hints, "_silent_until", [0.0])
    with socketserver.ThreadingTCPServer(("127.0.0.1", 0), Answering) as server:
        server.told = []  # type: ignore[attr-defined]
        threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True).start()
        settings.REDIS_URL = f"redis://127.0.0.1:{server.server_address[1]}/0"
        for seq in range(3):
            hints.tell(1, seq)
        server.shutdown()

    assert server.told == [b"1 0", b"1 1", b"1 2"]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("address", "told"),
    [("", []), ("unix:///nowhere/redis.sock", ["hint not sent: ConnectionError"])],
    ids=["a command beside a board with a Redis of its own", "a Redis that does not answer"],
)
def test_only_a_redis_that_was_named_and_does_not_answer_is_told(
    address: str, told: list[str], settings: Any, caplog: Any, monkeypatch: Any
) -> None:
    settings.REDIS_URL = address
    monkeypatch.setattr(hints, "_silent_until", [0.0])
    with caplog.at_level(logging.WARNING, "consult.hints"):
        hints.tell(1, 1)

    assert [record.getMessage() for record in caplog.records] == told
