"""Tells the live boards that a case has changed; a hint, never the truth."""

from __future__ import annotations

import hashlib
import logging

import redis
from django.conf import settings

log = logging.getLogger(__name__)
_client: redis.Redis | None = None


def channel() -> str:
    """The Redis channel of this database, so that two servers on one Redis do not meet."""
    database = settings.DATABASES["default"]
    where = f"{database.get('HOST', '')}/{database.get('PORT', '')}/{database['NAME']}"
    return "consult:" + hashlib.sha256(where.encode()).hexdigest()[:16]


def tell(case_pk: int, seq: int) -> None:
    """Say that the case now stands at `seq`. Never raises: a dead Redis costs the hint, the hub asks the database anyway."""
    global _client
    try:
        if _client is None:
            _client = redis.Redis.from_url(settings.REDIS_URL, socket_timeout=1, socket_connect_timeout=0.5)
        _client.publish(channel(), f"{case_pk} {seq}")
    except (redis.RedisError, OSError, ValueError) as error:
        log.warning("hint not sent: %s", type(error).__name__)
