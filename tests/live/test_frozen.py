"""A reader that takes nothing any more: it skips cards, is closed, and delays nobody."""

import asyncio

import pytest

from consult.live.hub import Hub, Pace
from consult.live.routing import addresses
from tests.live.cast import change, open_case
from tests.live.watcher import Watcher

pytestmark = pytest.mark.django_db(transaction=True)


class FrozenWatcher(Watcher):
    """A client whose connection stops taking frames while `thawed` is not set, as a full send buffer does."""

    def __init__(self, *arguments, **named):
        super().__init__(*arguments, **named)
        self.thawed = asyncio.Event()
        self.thawed.set()
        application = self.socket.application

        async def behind_a_full_buffer(scope, receive, send):
            async def slow_send(message):
                await self.thawed.wait()
                await send(message)

            await application(scope, receive, slow_send)

        self.socket.application = behind_a_full_buffer


def pace_of(patience):
    return Pace(heal=0.1, tick=60, check=0.1, patience=patience)


@pytest.fixture
def pace():
    return pace_of(0.5)


async def frozen(hub, cast):
    watcher = await FrozenWatcher.on(hub, "/ws/board/", cast.tokens["averill"])
    await watcher.read()
    watcher.thawed.clear()
    return watcher


@pytest.mark.parametrize("pace", [pace_of(60)])  # longer than ten changes take on a busy machine
async def test_it_skips_to_the_newest_card(hub, cast, watch, do):
    case = await do(open_case, cast.osk)
    slow, board = await frozen(hub, cast), await watch()

    for _ in range(10):
        seq = await do(change, case)
        await board.until(lambda b, seq=seq: b.cards[str(case.uid)]["seq"] == seq)
    slow.thawed.set()
    await slow.until(lambda b: b.cards[str(case.uid)]["seq"] == 11)

    # The one that was under way when it froze, and the newest.
    assert slow.seqs(str(case.uid)) == [2, 11]
    assert board.seqs(str(case.uid)) == list(range(2, 12))
    await slow.leave()


async def test_it_is_closed_after_its_patience_and_told_to_come_again(hub, cast, watch, do):
    case = await do(open_case, cast.osk)
    slow, board = await frozen(hub, cast), await watch()

    await do(change, case)
    await board.read()
    async with asyncio.timeout(3):
        while len(hub.seats) == 2:
            await asyncio.sleep(0)
    slow.thawed.set()

    assert await slow.closed_with() == 1013
    await do(change, case)
    assert (await board.news())["seq"] == 3
    await slow.leave()


async def test_a_case_that_was_opened_and_ended_meanwhile_is_never_mentioned(hub, cast, watch, do):
    stays = await do(open_case, cast.osk)
    slow, board = await frozen(hub, cast), await watch()
    await do(change, stays)

    case = await do(open_case, cast.osk)
    await board.until(lambda b: str(case.uid) in b.cards)
    await do(change, case, state="closed")
    await board.until(lambda b: str(case.uid) not in b.cards)
    await do(change, stays)
    slow.thawed.set()
    await slow.until(lambda b: b.cards[str(stays.uid)]["seq"] == 3)

    assert {message.get("case") for message in slow.seen[1:]} == {str(stays.uid)}
    await slow.leave()


async def test_a_change_between_joining_and_the_picture_is_not_missed(cast, do, monkeypatch):
    """Note [Join before the picture]: the picture is read, and before it is sent the case changes."""
    hub = Hub(Pace(heal=0.05, tick=3600))
    case = await do(open_case, cast.osk)
    read, told = asyncio.Event(), asyncio.Event()
    of_agency = hub.picture.of_agency

    async def held_up(*arguments, **named):
        picture = await of_agency(*arguments, **named)
        read.set()
        await told.wait()
        return picture

    monkeypatch.setattr(hub.picture, "of_agency", held_up)
    board = await Watcher.on(hub, "/ws/board/", cast.tokens["merrin"])
    await read.wait()
    await do(change, case)
    async with asyncio.timeout(3):
        while hub._told.get(case.pk) != 2:
            await asyncio.sleep(0)
    told.set()

    assert [card["seq"] for card in (await board.read())["cases"]] == [1]
    assert (await board.news())["seq"] == 2
    await board.leave()


def test_both_addresses_share_one_hub():
    hub = Hub()

    given = [address.callback.consumer_initkwargs for address in addresses(hub)]
    assert [each["hub"] for each in given if each] == [hub, hub]
