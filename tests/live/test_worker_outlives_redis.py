"""A task that ends after Redis has died and come back: the worker goes on, and the broker hands the task out again."""

from __future__ import annotations

from typing import Any

import pytest
from kombu import Connection, Consumer, Producer, Queue

from consult import celery  # noqa: F401  sets how tasks are acknowledged
from tests.live.conftest import LocalRedis

TICKS = Queue("ticks")


@pytest.fixture
def taken(local_redis: LocalRedis) -> Any:
    """A tick that a worker has taken, and the channel by which it came."""
    got: list[Any] = []
    with Connection(local_redis.url.replace("unix://", "redis+socket://")) as connection:
        Producer(connection.channel()).publish({}, routing_key="ticks", declare=[TICKS])
        channel = connection.channel()
        with Consumer(channel, [TICKS], on_message=got.append):
            while not got:
                connection.drain_events(timeout=5)
            yield got[0], channel


def test_acknowledging_by_a_channel_that_is_closed_ends_nobody(taken: Any):
    message, channel = taken
    channel.close()  # as celery does with all of them when Redis dies

    message.ack()

    assert message.acknowledged


def test_by_an_open_one_it_is_acknowledged_with_redis(taken: Any):
    message, channel = taken
    with channel.conn_or_acquire() as client:
        assert client.hexists(channel.unacked_key, message.delivery_tag)

        message.ack()

        assert not client.hexists(channel.unacked_key, message.delivery_tag)
