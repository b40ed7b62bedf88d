"""Hints of changed cases from Redis, while Redis is there; what is lost here, the hub finds in the database."""

from __future__ import annotations

import asyncio
import random
from collections.abc import AsyncIterator

from django.conf import settings
from redis.asyncio import Redis
from redis.asyncio.retry import Retry
from redis.backoff import NoBackoff
from redis.exceptions import ConnectionError as RedisGone
from redis.exceptions import RedisError

from consult.hints import channel
from consult.live.outage import Outage

QUIET_S = 5.0
AGAIN_AFTER_S = (0.2, 1.0)


async def hints() -> AsyncIterator[tuple[int, int]]:
    """Yield (case, seq) for ever, subscribing anew after a moment whenever the connection ends."""
    outage = Outage("the subscription to Redis")
    while True:
        try:
            async for hint in _subscription(outage):
                yield hint
        except (RedisError, OSError, ValueError) as error:
            outage.failed(error)
        # Not all processes at once: a Redis that has just started is asked by each at its own moment.
        await asyncio.sleep(random.uniform(*AGAIN_AFTER_S))  # noqa: S311  (no secret)


async def _subscription(outage: Outage) -> AsyncIterator[tuple[int, int]]:
    # No socket timeout: a quiet board is no fault. A connection that died in silence shows by an unanswered ping.
    client = Redis.from_url(
        settings.REDIS_URL, socket_timeout=None, socket_connect_timeout=2, retry=Retry(NoBackoff(), 0)
    )
    async with client, client.pubsub(ignore_subscribe_messages=True) as feed:
        async with asyncio.timeout(QUIET_S):
            await feed.subscribe(channel())
        outage.works()
        pinged = False
        while True:
            message = await feed.get_message(timeout=QUIET_S)
            if message is not None:
                pinged = False
                if hint := _read(message):
                    yield hint
            elif pinged:
                raise RedisGone("no answer to a ping")
            else:
                await feed.ping()
                pinged = True


def _read(message: dict) -> tuple[int, int] | None:
    """The hint in a message; None for an answered ping and for what is no hint of ours."""
    if message["type"] != "message":
        return None
    try:
        case, seq = message["data"].split()
        return int(case), int(seq)
    except ValueError:
        return None
