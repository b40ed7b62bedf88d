"""The subscription to Redis: an idle one stays, one that died in silence is noticed."""

import asyncio
import logging
import os
import signal

import pytest
import redis

from consult import hints
from consult.live import feed as feeds
from consult.live.hub import Hub, Pace
from tests import depth
from tests.live.cast import change, open_case
from tests.live.watcher import Watcher


async def next_hint(feed, local_redis, case):
    """Publish until somebody listens, and read what the feed makes of it."""
    with redis.Redis.from_url(local_redis.url) as client:
        while not client.publish(hints.channel(), f"{case} 1"):
            await asyncio.sleep(0)
    async with asyncio.timeout(3):
        return await anext(feed)


@pytest.fixture
async def feed(monkeypatch):
    monkeypatch.setattr(feeds, "QUIET_S", 0.1)
    monkeypatch.setattr(feeds, "AGAIN_AFTER_S", (0.01, 0.02))
    feed = feeds.hints()
    yield feed
    await feed.aclose()


@pytest.fixture
async def waiting(feed):
    """The feed's next hint, being waited for."""
    waiting = asyncio.ensure_future(anext(feed))
    yield waiting
    waiting.cancel()


async def test_a_quiet_redis_is_asked_and_its_answer_is_enough(waiting, local_redis, caplog):
    done, _ = await asyncio.wait([waiting], timeout=1)
    assert not done
    with redis.Redis.from_url(local_redis.url) as client:
        assert client.publish(hints.channel(), "7 3") == 1

    assert await asyncio.wait_for(waiting, 3) == (7, 3)
    assert not [record for record in caplog.records if record.levelno >= logging.WARNING]


async def test_a_redis_that_answers_nothing_is_left_and_found_again(waiting, local_redis, caplog):
    with redis.Redis.from_url(local_redis.url) as client:
        while not client.pubsub_numsub(hints.channel())[0][1]:
            await asyncio.sleep(0)
    process = local_redis.server._process
    os.kill(process.pid, signal.SIGSTOP)
    try:
        async with asyncio.timeout(3):
            while "the subscription to Redis failed" not in caplog.text:
                await asyncio.sleep(0.01)
    finally:
        os.kill(process.pid, signal.SIGCONT)

    with redis.Redis.from_url(local_redis.url) as client:
        async with asyncio.timeout(3):
            while not waiting.done():
                client.publish(hints.channel(), "7 3")
                await asyncio.sleep(0.05)
    assert waiting.result() == (7, 3)


@pytest.fixture(params=[0.4, 5.0] if depth.NIGHT else [0.4])
def drops_after_s(request, monkeypatch):
    """Some clients drop what is quiet for 5 s unless told otherwise; at night as long as that, by day shorter."""
    from_url, drops_after_s = feeds.Redis.from_url, request.param
    monkeypatch.setattr(
        feeds.Redis, "from_url", lambda url, **told: from_url(url, **{"socket_timeout": drops_after_s} | told)
    )
    monkeypatch.setattr(feeds, "QUIET_S", drops_after_s)
    return drops_after_s


@pytest.mark.django_db(transaction=True)
async def test_an_idle_board_stays_open_and_is_told_at_once(drops_after_s, cast, do, caplog):
    """Healing is an hour away, so only the subscription tells."""
    hub = Hub(Pace(heal=3600, trust=3600, tick=drops_after_s))
    case = await do(open_case, cast.osk)
    board = await Watcher.on(hub, "/ws/board/", cast.tokens["merrin"])
    await board.read()

    await board.until(lambda b: len(b.seen) > 2, within=3 * drops_after_s + 3)
    await do(change, case)

    assert (await board.news(within=1))["type"] == "card"
    assert not [record for record in caplog.records if record.levelno >= logging.WARNING]
    await board.leave()
