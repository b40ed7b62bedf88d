"""The least that could do it: a post becomes one row and one message, and each socket forwards it. An ASGI function.

No framework is between: psycopg writes, Redis tells, uvicorn serves. `theirs.bare` runs it.
"""

from __future__ import annotations

import asyncio
import json
import os
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

from psycopg_pool import AsyncConnectionPool
from redis.asyncio import Redis

Message = MutableMapping[str, Any]
Receive, Send = Callable[[], Awaitable[Message]], Callable[[Message], Awaitable[None]]

CHANNEL = "bench-bare"
TABLE = "CREATE TABLE IF NOT EXISTS post (id bigserial PRIMARY KEY, unit text NOT NULL, data jsonb NOT NULL)"
POST = "INSERT INTO post (unit, data) VALUES (%s, %s) RETURNING id"

redis = Redis.from_url(os.environ["REDIS_URL"])
sockets: set[Send] = set()


class Kept:
    """What the process opens once: the database, and the task that hands on what Redis tells."""

    pool: AsyncConnectionPool
    forwarding: asyncio.Task[None]


async def application(scope: Message, receive: Receive, send: Send) -> None:
    """Serve the process's start and end, a post, or a socket."""
    await {"lifespan": _life, "http": _post, "websocket": _socket}[scope["type"]](scope, receive, send)


async def _life(_: Message, receive: Receive, send: Send) -> None:
    await receive()
    Kept.pool = AsyncConnectionPool(os.environ["BARE_DATABASE"], min_size=1, max_size=16, open=False)
    await Kept.pool.open()
    async with Kept.pool.connection() as connection:
        await connection.execute(TABLE)
    Kept.forwarding = asyncio.create_task(_forward())
    await send({"type": "lifespan.startup.complete"})
    await receive()
    Kept.forwarding.cancel()
    await Kept.pool.close()
    await send({"type": "lifespan.shutdown.complete"})


async def _post(scope: Message, receive: Receive, send: Send) -> None:
    body, more = b"", True
    while more:
        part = await receive()
        body, more = body + part.get("body", b""), part.get("more_body", False)
    unit = scope["path"].strip("/")
    async with Kept.pool.connection() as connection:
        row = await (await connection.execute(POST, [unit, body.decode()])).fetchone()
    seq = row[0] if row else 0
    told = f'{{"type":"card","case":"{unit}","seq":{seq},"card":{body.decode()}}}'
    await redis.publish(CHANNEL, told)
    answer = json.dumps({"case": unit, "seq": seq}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(answer))]
    await send({"type": "http.response.start", "status": 201, "headers": headers})
    await send({"type": "http.response.body", "body": answer})


async def _socket(_: Message, receive: Receive, send: Send) -> None:
    await send({"type": "websocket.accept"})
    sockets.add(send)
    while (await receive())["type"] != "websocket.disconnect":
        pass
    sockets.discard(send)


async def _forward() -> None:
    async with redis.pubsub(ignore_subscribe_messages=True) as feed:
        await feed.subscribe(CHANNEL)
        async for message in feed.listen():
            text = message["data"].decode()
            for send in tuple(sockets):
                await send({"type": "websocket.send", "text": text})
