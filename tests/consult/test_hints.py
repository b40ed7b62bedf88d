"""A hint to the boards costs nothing but itself: a write goes through without one, and says only what is wrong."""

from __future__ import annotations

import logging
from typing import Any

import pytest

from consult import hints


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
