"""One socket's outbox: the newest wins, order holds, a frozen reader is known."""

import asyncio
import json
import time
import weakref
from datetime import UTC, datetime
from uuid import UUID, uuid4

import pytest

from consult.live.news import News, Tick
from consult.live.outbox import Outbox
from tests.copying import replace

AGENCY, SEVEN = uuid4(), uuid4()
NOON = datetime(2030, 1, 5, 12, tzinfo=UTC)


def news(case: int, seq: int, *, is_open: bool = True) -> News:
    card = json.dumps({"case": str(UUID(int=case)), "seq": seq})
    return News(case, UUID(int=case), AGENCY, SEVEN, seq, is_open, card)


class Reader:
    """The other end: takes messages while it is not frozen."""

    def __init__(self) -> None:
        self.took: list[tuple[str, int, int]] = []
        self.thawed = asyncio.Event()
        self.thawed.set()

    async def take(self, text: str) -> None:
        await self.thawed.wait()
        message = json.loads(text)
        number = UUID(message["case"]).int if "case" in message else 0
        self.took.append((message["type"], number, message.get("seq", 0)))


async def settled() -> None:
    """Let the outbox send what it can."""
    for _ in range(50):
        await asyncio.sleep(0)


@pytest.fixture
def reader():
    return Reader()


@pytest.fixture
def outbox(reader):
    return Outbox(reader.take)


@pytest.fixture
async def running(outbox):
    """The outbox at work, its client holding case 1 at seq 3."""
    outbox.open_with([news(1, 3)], NOON)
    task = asyncio.create_task(outbox.run())
    await settled()
    yield task
    task.cancel()


@pytest.mark.parametrize(
    ("offered", "told"),
    [
        pytest.param([news(1, 4)], [("card", 1, 4)], id="a newer card"),
        pytest.param([news(1, 3)], [], id="what the picture held already"),
        pytest.param([news(1, 2)], [], id="an older card"),
        pytest.param([news(2, 1)], [("card", 2, 1)], id="a case that the picture did not hold"),
        pytest.param([news(1, 4, is_open=False)], [("gone", 1, 0)], id="a case that has gone"),
        pytest.param([news(1, 3, is_open=False)], [], id="a going older than the picture"),
        pytest.param([news(2, 9, is_open=False)], [], id="the going of a case never shown"),
    ],
)
async def test_it_tells_only_what_the_client_does_not_hold(offered, told, outbox, reader, running):
    for each in offered:
        outbox.offer(each)
    await settled()

    assert reader.took == [("hello", 0, 0), *told]


async def test_an_older_card_after_a_going_does_not_bring_the_case_back(outbox, reader, running):
    outbox.offer(news(1, 5, is_open=False))
    await settled()
    outbox.offer(news(1, 4))
    await settled()

    assert reader.took[-1] == ("gone", 1, 0)


async def test_it_keeps_the_newest_of_each_case_for_a_frozen_reader(outbox, reader, running):
    reader.thawed.clear()
    outbox.offer(news(1, 4))
    await settled()
    for seq in range(5, 1000):
        outbox.offer(news(1, seq))
        outbox.offer(news(2, seq))
    reader.thawed.set()
    await settled()

    assert reader.took[1:] == [("card", 1, 4), ("card", 1, 999), ("card", 2, 999)]


async def test_it_knows_since_when_a_reader_takes_nothing(outbox, reader, running):
    assert outbox.sending_since is None

    reader.thawed.clear()
    before = time.monotonic()
    outbox.offer(news(1, 4))
    await settled()
    assert before <= outbox.sending_since <= time.monotonic()

    reader.thawed.set()
    await settled()
    assert outbox.sending_since is None


async def test_news_that_came_before_the_picture_are_told_after_it(outbox, reader):
    outbox.offer(news(1, 4))
    outbox.offer(news(2, 7))
    outbox.open_with([news(1, 3), news(2, 8)], NOON)
    task = asyncio.create_task(outbox.run())
    await settled()
    task.cancel()

    assert reader.took == [("hello", 0, 0), ("card", 1, 4)]


async def test_a_tick_goes_before_cards_that_wait_so_that_load_cannot_hold_it_up(outbox, reader, running):
    outbox.offer(news(1, 4))
    outbox.offer_tick(Tick(NOON, None))
    await settled()

    assert [kind for kind, *_ in reader.took] == ["hello", "tick", "card"]


def test_a_card_is_encoded_once_for_all_sockets():
    told = news(1, 2)

    assert told.text is told.text
    assert json.loads(told.text) == {
        "type": "card",
        "case": str(told.uid),
        "seq": 2,
        "card": {"case": str(told.uid), "seq": 2},
    }
    assert json.loads(replace(told, html="<p>é</p>").page_text)["html"] == "<p>é</p>"


async def test_the_picture_is_not_kept_once_it_is_sent(outbox, reader):
    """A board of 200 cases is megabytes, and there are many boards."""
    card = news(1, 3)
    kept = weakref.ref(card)
    outbox.open_with([card], NOON)
    del card
    task = asyncio.create_task(outbox.run())
    await settled()

    assert kept() is None
    assert outbox._hello == ""
    task.cancel()
