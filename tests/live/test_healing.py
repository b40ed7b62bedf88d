"""What is lost on the way, the hub finds again: hints, Redis, the database."""

import asyncio
import contextlib

import pytest
import redis
from django.db import OperationalError

from consult import hints
from consult.live.hub import Hub, Pace
from consult.live.picture import Picture
from tests.live.cast import change, open_case
from tests.live.watcher import Watcher

pytestmark = pytest.mark.django_db(transaction=True)


async def test_with_every_hint_lost_a_change_comes_from_the_database(cast, watch, do):
    case = await do(open_case, cast.osk)
    board = await watch()

    await do(change, case, told=False)

    await board.until(lambda b: b.cards[str(case.uid)]["seq"] == 2)


async def test_as_delivered_it_comes_within_two_seconds(cast, do):
    hub = Hub(Pace())
    board = await Watcher.on(hub, "/ws/board/", cast.tokens["merrin"])
    case = await do(open_case, cast.osk)
    await board.until(lambda b: str(case.uid) in b.cards)

    await do(change, case, told=False)

    await board.until(lambda b: b.cards[str(case.uid)]["seq"] == 2, within=2)
    await board.leave()


async def test_with_every_hint_lost_a_case_still_goes_and_comes_back(cast, watch, do):
    case = await do(open_case, cast.osk)
    board = await watch()

    await do(change, case, told=False, state="closed")
    await board.until(lambda b: str(case.uid) not in b.cards)

    await do(change, case, told=False, state="open")
    await board.until(lambda b: str(case.uid) in b.cards)


async def test_a_case_opened_and_ended_between_two_rounds_leaves_no_board_behind(cast, watch, do):
    """The board joins while the case is open; the hub itself has never heard of it when it ends."""
    await watch("averill")
    case = await do(open_case, cast.osk)
    board = await watch()
    assert str(case.uid) in board.cards

    await do(change, case, told=False, state="closed")

    await board.until(lambda b: str(case.uid) not in b.cards)


async def test_a_board_hears_of_a_case_whose_hint_was_lost_though_another_board_joined_since(cast, do):
    """What the newcomer's picture holds, the first board may still lack."""
    hub = Hub(Pace(heal=0.2))
    board = await Watcher.on(hub, "/ws/board/", cast.tokens["merrin"])
    await board.read()
    opened = await do(open_case, cast.osk)
    await board.until(lambda b: str(opened.uid) in b.cards)
    case = await do(open_case, cast.osk, told=False)
    newcomer = await Watcher.on(hub, "/ws/board/", cast.tokens["averill"])
    assert str(case.uid) in {card["case"] for card in (await newcomer.read())["cases"]}

    await board.until(lambda b: str(case.uid) in b.cards)
    await asyncio.gather(board.leave(), newcomer.leave())


async def test_boards_converge_through_the_death_and_return_of_redis(cast, watch, do, local_redis):
    case = await do(open_case, cast.osk)
    board = await watch()
    try:
        local_redis.kill()
        assert await do(change, case) == 2
        await board.until(lambda b: b.cards[str(case.uid)]["seq"] == 2)
    finally:
        local_redis.start()

    await do(change, case)
    await board.until(lambda b: b.cards[str(case.uid)]["seq"] == 3)


async def test_hints_come_again_after_redis_has_returned(cast, do, local_redis):
    """With healing an hour away, only a subscription can tell the board."""
    hub = Hub(Pace(heal=3600, tick=3600))
    case = await do(open_case, cast.osk)
    board = await Watcher.on(hub, "/ws/board/", cast.tokens["merrin"])
    await board.read()

    async def hint_arrives():
        before = board.cards[str(case.uid)]["seq"]
        while board.cards[str(case.uid)]["seq"] == before:
            await do(change, case)
            if not await board.socket.receive_nothing(timeout=0.2):
                await board.read()

    await asyncio.wait_for(hint_arrives(), 5)
    local_redis.kill()
    local_redis.start()
    await asyncio.wait_for(hint_arrives(), 5)
    await board.leave()


async def test_without_any_redis_the_board_lives_on_the_database(cast, watch, do, settings):
    settings.REDIS_URL = "unix:///nowhere/redis.sock"
    case = await do(open_case, cast.osk)
    board = await watch()

    await do(change, case)

    await board.until(lambda b: b.cards[str(case.uid)]["seq"] == 2)


@pytest.mark.parametrize(
    "hint",
    ["", "nonsense", "1", "1 2 3", "one two", "999999999 1", "-1 5"],
)
async def test_a_hint_that_says_nothing_is_passed_over(hint, cast, watch, do, local_redis):
    case = await do(open_case, cast.osk)
    board = await watch()

    with redis.Redis.from_url(local_redis.url) as client:
        while not client.publish(hints.channel(), hint):
            await asyncio.sleep(0)
    await do(change, case)

    await board.until(lambda b: b.cards[str(case.uid)]["seq"] == 2)


class FailingPicture(Picture):
    """The database, which can be away."""

    away, refused = False, 0

    async def of_cases(self, *arguments, **named):
        self._refuse()
        return await super().of_cases(*arguments, **named)

    async def heads(self):
        self._refuse()
        return await super().heads()

    async def ended(self, *arguments):
        self._refuse()
        return await super().ended(*arguments)

    async def of_agency(self, *arguments, **named):
        self._refuse()
        return await super().of_agency(*arguments, **named)

    async def refused_often(self):
        self.refused = 0
        while self.refused < 10:
            await asyncio.sleep(0)

    def _refuse(self):
        if self.away:
            self.refused += 1
            raise OperationalError("server closed the connection")


@pytest.fixture
def picture():
    return FailingPicture()


@pytest.fixture
async def hub(picture):
    return Hub(Pace(heal=0.05, tick=0.05, check=0.05, trust=0.2), picture)


async def test_the_board_survives_a_database_that_is_away(cast, watch, do, picture, caplog):
    case = await do(open_case, cast.osk)
    board = await watch()

    picture.away = True
    await do(change, case)
    await picture.refused_often()
    picture.away = False

    await board.until(lambda b: b.cards[str(case.uid)]["seq"] == 2)
    said = [record.message for record in caplog.records if "asking the database for cases failed" in record.message]
    assert len(said) == 1


async def test_while_the_database_is_away_no_tick_claims_that_the_board_is_live(watch, picture, cast):
    board = await watch()
    picture.away = True
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(0.5):
            while True:
                await board.read()
    told = len(board.seen)

    assert await board.socket.receive_nothing(timeout=0.3)

    picture.away = False
    assert (await board.read())["type"] == "tick"
    assert len(board.seen) == told + 1


async def test_a_socket_opened_while_the_database_is_away_is_asked_to_come_again(cast, hub, picture):
    picture.away = True
    board = await Watcher.on(hub, "/ws/board/", cast.tokens["merrin"])

    assert await board.closed_with() == 1013
    await board.leave()
    assert hub.seats == []


async def test_hints_that_come_during_a_read_are_read_together(cast, watch, do, hub, monkeypatch):
    asked, gate = [], asyncio.Event()
    cases = [await do(open_case, cast.osk) for _ in range(5)]
    board = await watch()

    async def held_up(self, wanted, *, drawn):
        asked.append(set(wanted))
        await gate.wait()
        return await Picture.of_cases(self, wanted, drawn=drawn)

    monkeypatch.setattr(FailingPicture, "of_cases", held_up)
    await do(change, cases[0])
    async with asyncio.timeout(3):
        while not asked:
            await asyncio.sleep(0)
        for case in cases * 2:
            await do(change, case)
        while not hub._wanted >= {case.pk for case in cases}:
            await asyncio.sleep(0)
    gate.set()

    await board.until(lambda b: {b.cards[str(case.uid)]["seq"] for case in cases} == {3, 4})
    assert asked[1] == {case.pk for case in cases}
