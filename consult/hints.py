"""Tells the live boards that a case has changed; a hint, never the truth."""

from __future__ import annotations

import hashlib
import logging
import time
from functools import cache

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


@cache
def _client(url: str) -> redis.Redis:
    """One connection, which hints take in turn, and anew where it has gone: a pool looks for that before each hint."""
    anew = Retry(NoBackoff(), 1, supported_errors=(redis.ConnectionError,))
    return redis.Redis.from_url(
        url, socket_timeout=0.5, socket_connect_timeout=0.5, single_connection_client=True, retry=anew
    )


def tell(case_pk: int, seq: int) -> None:
    """Say that the case now stands at `seq`; never raises.

    A dead Redis costs the hint, not the write: the hub asks the database anyway. So it is told nobody where no address
    is known: a board that runs with a Redis of its own tells that to its children alone, not to a command beside it.
    """
    if not settings.REDIS_URL or time.monotonic() < _silent_until[0]:
        return
    try:
        _client(settings.REDIS_URL).publish(channel(), f"{case_pk} {seq}")
    except (redis.RedisError, OSError, ValueError) as error:
        _silent_until[0] = time.monotonic() + PAUSE_S
        log.warning("hint not sent: %s", type(error).__name__)
