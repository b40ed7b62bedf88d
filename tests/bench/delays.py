"""From a post on its way to its card on every open board."""

from __future__ import annotations

import asyncio
import json
import re
import time
from itertools import cycle, islice

from websockets.asyncio.client import ClientConnection, connect

from tests.bench.clients import Connection, apart
from tests.bench.ours import Ours

HEAD = re.compile(rb'"type":\s*"card".*?"case":\s*"([0-9a-f-]+)".*?"seq":\s*(\d+)', re.DOTALL)


async def _watch(socket: ClientConnection, seen: dict[tuple[str, int], list[float]]) -> None:
    async for message in socket:
        at = time.perf_counter()
        text = message.encode() if isinstance(message, str) else message
        if found := HEAD.search(text[:400]):
            seen.setdefault((found[1].decode(), int(found[2])), []).append(at)


async def _measure(ours: Ours, boards: int, rate: float, seconds: float) -> list[float]:
    seen: dict[tuple[str, int], list[float]] = {}
    headers = [{"Authorization": f"Token {token}"} for token in ours.physicians]
    address = f"ws://127.0.0.1:{ours.live}/ws/board/"
    sockets = [
        await connect(address, additional_headers=header, compression=None, max_size=None, ping_interval=None)
        for header in islice(cycle(headers), boards)
    ]
    watchers = [asyncio.create_task(_watch(socket, seen)) for socket in sockets]
    await asyncio.sleep(1)
    sent = await _post_at(ours, rate, seconds)
    await asyncio.sleep(1)
    for task in watchers:
        task.cancel()
    await asyncio.gather(*(socket.close() for socket in sockets))
    return [at - start for key, start in sent.items() for at in _arrivals(seen, key)]


def _arrivals(seen: dict[tuple[str, int], list[float]], key: tuple[str, int]) -> list[float]:
    """When the card of this entry, or a newer one where it was skipped, came to each board."""
    if key in seen:
        return seen[key]
    newer = sorted(number for case, number in seen if case == key[0] and number > key[1])
    return seen[(key[0], newer[0])] if newer else []


async def _post_at(ours: Ours, rate: float, seconds: float) -> dict[tuple[str, int], float]:
    """Post at a steady rate, unit after unit; when the post of each (case, seq) was sent."""
    connections = [Connection(target) for target in ours.targets]
    for connection in connections:
        await connection.open()
    sent: dict[tuple[str, int], float] = {}
    begin = time.perf_counter()
    tasks = []
    for number in range(int(rate * seconds)):
        await asyncio.sleep(max(0, begin + number / rate - time.perf_counter()))
        tasks.append(asyncio.create_task(_post(connections[number % len(connections)], sent)))
    await asyncio.gather(*tasks)
    return sent


async def _post(connection: Connection, sent: dict[tuple[str, int], float]) -> None:
    start = time.perf_counter()
    answer = json.loads(await connection.post(connection.target.request()))
    sent[(answer["case"], answer["seq"])] = start


def post_to_card(ours: Ours, boards: int, rate: float, seconds: float) -> list[float]:
    """The delays in seconds, one for each post and board, measured in a process of its own."""
    return apart(_measure, ours, boards, rate, seconds)
