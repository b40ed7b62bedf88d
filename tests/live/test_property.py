"""Whatever happens in whatever order: what a board holds is what a fresh hello would show, and seq only grows."""

import asyncio
import json
from collections.abc import AsyncIterator
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from consult.access import Actor
from consult.live import consumers
from consult.live import hub as hub_module
from consult.live.auth import Pass
from consult.live.hub import Hub, Pace
from consult.live.news import News
from tests.live.watcher import Watcher

AGENCY, SEVEN = UUID(int=1), UUID(int=2)
PHYSICIAN = Actor(membership=UUID(int=3), agency=AGENCY, role="physician", unit=None, name="Dr. Okafor")
CASES = st.integers(0, 3)
STEPS = st.one_of(
    st.tuples(st.just("write"), CASES, st.booleans()),
    st.tuples(st.just("end"), CASES, st.booleans()),
    st.tuples(st.just("reopen"), CASES, st.booleans()),
    st.tuples(st.just("join"), st.just(0), st.just(True)),
    st.tuples(st.just("leave"), CASES, st.just(True)),
    st.tuples(st.just("rest"), st.integers(1, 40), st.just(True)),
)


class World:
    """Cases in memory that read as the database does: what is answered was true when the question came in."""

    def __init__(self) -> None:
        self.cases: dict[int, News] = {}
        self.hints: asyncio.Queue[tuple[int, int]] = asyncio.Queue()

    def write(self, case: int, *, told: bool, is_open: bool | None = None) -> None:
        """The case's next entry; the first one opens it."""
        before = self.cases.get(case)
        seq = before.seq + 1 if before else 1
        stays = before.open if before else True
        card = json.dumps({"case": str(UUID(int=case)), "seq": seq})
        self.cases[case] = News(case, UUID(int=case), AGENCY, SEVEN, seq, stays if is_open is None else is_open, card)
        if told:
            self.hints.put_nowait((case, seq))

    @property
    def open(self) -> list[News]:
        return [news for news in self.cases.values() if news.open]

    async def of_agency(self, agency: UUID, *, html: bool) -> list[News]:
        return await later(self.open, 7)

    async def of_cases(self, wanted: set[int], *, drawn: object) -> list[News]:
        return await later([self.cases[case] for case in wanted], 5)

    async def heads(self) -> dict[int, int]:
        return await later({news.case: news.seq for news in self.open}, 3)

    async def hints_as_they_come(self) -> AsyncIterator[tuple[int, int]]:
        while True:
            yield await self.hints.get()

    async def ended(self, passes: set[Pass], now: object) -> set[Pass]:
        return set()


async def later(answer, rounds):
    """The answer after a few turns of the loop, in which others go on."""
    for _ in range(rounds):
        await asyncio.sleep(0)
    return answer


async def play(world, steps):
    """Take the steps, then wait for every board to agree with the world."""
    hub = Hub(Pace(heal=0.002, tick=60, check=60), world)
    boards = [await join(hub)]
    for what, number, told in steps:
        if what == "join":
            boards.append(await join(hub))
        elif what == "leave" and number in range(1, len(boards)):
            await boards.pop(number).leave()
        elif what == "rest":
            await later(None, number)
        elif what == "write" or number in world.cases:
            world.write(number, told=told, is_open={"end": False, "reopen": True}.get(what))
    fresh = {str(news.uid): json.loads(news.card) for news in world.open}
    for board in boards:
        await board.until(lambda b: b.hello and b.cards == fresh, within=5)
        for news in world.cases.values():
            seqs = board.seqs(str(news.uid))
            assert seqs == sorted(set(seqs))
    await asyncio.gather(*(board.leave() for board in boards))


async def join(hub):
    watcher = Watcher(hub, "/ws/board/", {})
    await watcher.connect()
    return watcher


@settings(max_examples=settings.default.max_examples * 5)  # quick, and the order of things is what it is about
@given(st.lists(STEPS, max_size=40))
def test_every_board_ends_as_a_fresh_hello(steps):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(consumers, "admit", lambda scope, now: Pass(PHYSICIAN))
        world = World()
        patch.setattr(hub_module, "hints", world.hints_as_they_come)
        asyncio.run(play(world, steps))
