"""Tells the live boards that a case has changed; a hint, never the truth."""

from __future__ import annotations

import hashlib
import logging
import threading
import time
from functools import cache
from typing import Any

import redis
from django.conf import settings
from redis.backoff import NoBackoff
from redis.retry import Retry

log = logging.getLogger(__name__)
PAUSE_S = 1.0  # a Redis that does not answer must not slow every write
_silent_until = [0.0]


@cache
def channel() -> str:
    """The Redis channel of this database, so that two servers on one Redis do not meet."""
    database = settings.DATABASES["default"]
    where = f"{database.get('HOST', '')}/{database.get('PORT', '')}/{database['NAME']}"
    return "consult:" + hashlib.sha256(where.encode()).hexdigest()[:16]


class _Line:
    """One connection, which hints take in turn, and anew where it has gone.

    Not a client of redis-py: its care for each command, repeated in whatever way, would cost more than the hint.
    """

    def __init__(self, url: str) -> None:
        once = Retry(NoBackoff(), 0)
        pool = redis.ConnectionPool.from_url(url, socket_timeout=0.5, socket_connect_timeout=0.5, retry=once)
        self._connection: Any = pool.make_connection()
        self._turn = threading.Lock()

    def publish(self, text: str) -> None:
        """Publish a text on the channel, and wait until Redis has it."""
        with self._turn:
            try:
                self._publish(text)
            except redis.ConnectionError:
                self._publish(text)

    def _publish(self, text: str) -> None:
        self._connection.send_command("PUBLISH", channel(), text)
        self._connection.read_response()


_line = cache(_Line)  # by address


def tell(case_pk: int, seq: int) -> None:
    """Say that the case now stands at `seq`; never raises.

    A dead Redis costs the hint, not the write: the hub asks the database anyway. So it is told nobody where no address
    is known: a board that runs with a Redis of its own tells that to its children alone, not to a command beside it.
    """
    if not settings.REDIS_URL or time.monotonic() < _silent_until[0]:
        return
    try:
        _line(settings.REDIS_URL).publish(f"{case_pk} {seq}")
    except (redis.RedisError, OSError, ValueError) as error:
        _silent_until[0] = time.monotonic() + PAUSE_S
        log.warning("hint not sent: %s", type(error).__name__)
