"""Which physicians look now: told between processes through Redis, only to our own pages, and never relied on."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from datetime import timedelta
from typing import Any

import pytest

from consult import clock
from consult.access import Actor
from consult.live import looking
from consult.live.auth import Pass
from consult.live.hub import Hub, Pace
from consult.live.looking import Looking, Looks, looks_of, messages
from consult.live.outbox import Outbox
from consult.live.picture import Picture
from consult.live.seat import Seat
from consult.models import LastLook
from tests.conftest import Cast, open_consult
from tests.copying import replace
from tests.live import cast as acts
from tests.live.conftest import LocalRedis
from tests.live.watcher import Watcher

MERRIN, QUILLAN = Looks("here", "m", "Dr. Merrin"), Looks("here", "q", "Dr. Quillan", "case 7")
QUICK = Pace(heal=0.02, tick=30, check=30, patience=0.5, looking=0.02, looked=0.02)


@pytest.fixture
def pace() -> Pace:
    return QUICK


@pytest.fixture
async def hub(pace: Pace) -> Hub:
    """A hub that draws no card: the rows of these tests have none of the rules."""
    return Hub(pace, Picture(draw=lambda card: "<article></article>"))


@pytest.fixture
async def look(hub: Hub, cast: Cast, do: Any) -> AsyncIterator[Any]:
    """Open a page of ours as a person of the cast."""
    opened: list[Watcher] = []

    async def look(who: str, path: str = "/ws/board/?html=1") -> Watcher:
        await do(acts.person, getattr(cast, who))
        opened.append(await Watcher.on(hub, path, cast.tokens[who]))
        await opened[-1].read()
        return opened[-1]

    yield look
    await asyncio.gather(*(watcher.leave() for watcher in opened))


async def told(page: Watcher, wanted: Any, within: float = 3.0) -> Any:
    """The people of the first message about who looks that is as wanted."""
    async with asyncio.timeout(within):
        while True:
            message = await page.read(within + 1)
            if message["type"] == "looking" and wanted(message["people"]):
                return message["people"]


def here(heard: list[Looks] | None) -> list[Looks]:
    """Those of this test: the Redis is one for all."""
    return sorted(each for each in heard or () if each.agency == "here")


async def test_each_process_hears_of_all(local_redis: LocalRedis) -> None:
    one, other = Looking(), Looking()
    await one.exchange([MERRIN])

    assert here(await other.exchange([QUILLAN])) == [MERRIN, QUILLAN]
    assert here(await one.exchange([])) == [QUILLAN]


async def test_a_process_that_says_no_more_is_forgotten(monkeypatch: pytest.MonkeyPatch) -> None:
    one, other, now = Looking(), Looking(), clock.now()
    await one.exchange([MERRIN])
    monkeypatch.setattr(clock, "now", lambda: now + timedelta(seconds=looking.LASTS_S + 1))

    assert QUILLAN in (heard := await other.exchange([QUILLAN]) or [])
    assert MERRIN not in heard


async def test_without_redis_it_is_not_known(local_redis: LocalRedis, settings: Any, look: Any) -> None:
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    assert await Looking().exchange([MERRIN]) is None
    page = await look("merrin")
    assert await told(page, lambda people: people is None) is None
    settings.REDIS_URL = local_redis.url
    assert await told(page, bool)


async def test_pages_say_who_looks_at_the_board_and_who_has_which_case_open(look: Any, cast: Cast, do: Any) -> None:
    case = await do(open_consult, cast)
    page = await look("merrin")
    await look("averill")  # no physician: decides nothing
    await look("quillan", f"/ws/cases/{case.uid}/?html=1")
    people = await told(page, lambda people: people and len(people) == 2 and people[1]["cases"])

    assert [(each["name"], each["cases"]) for each in people] == [("Dr. Merrin", []), ("Dr. Quillan", [str(case.uid)])]
    assert {*people[0]} == {"id", "name", "cases"}, "nothing of a patient"


async def test_programs_crews_and_other_agencies_hear_nothing_of_it(look: Any, cast: Cast, do: Any, watch: Any) -> None:
    case = await do(acts.open_case, cast.osk)
    page = await look("merrin")
    program, other = await watch("sorrel"), await look("vane")
    crew = await watch("osk", f"/ws/cases/{case.uid}/?html=1")
    await told(page, bool)
    people = await told(other, bool)

    assert [each["name"] for each in people] == ["Dr. Vane"]
    assert not [each for each in program.seen + crew.seen if each["type"] == "looking"]


def test_who_is_told_as_looking(cast: Cast) -> None:
    def seat(actor: Actor, *room: Any) -> Seat:
        return Seat(room, Pass(actor), Outbox(None), print)  # type: ignore[arg-type]

    person = replace(cast.merrin, user_id=cast.merrin.membership)
    board = seat(person, "board", person.agency), seat(person, "board", person.agency)
    others = seat(cast.quillan, "board", person.agency), seat(replace(cast.averill, user_id=person.user_id), "board")

    assert [(each.name, each.case) for each in looks_of([*board, *others])] == [("Dr. Merrin", "")]
    message = json.loads(messages([MERRIN], [person.agency])[person.agency])
    assert message == {"type": "looking", "people": []}, "of another agency"


async def test_how_far_a_person_has_looked_is_kept_while_a_page_is_open(look: Any, cast: Cast, do: Any) -> None:
    case = await do(acts.open_case, cast.osk)
    await look("merrin")
    await do(acts.change, case)

    def kept() -> dict[str, int]:
        row = LastLook.objects.filter(pk=cast.merrin.membership).first()
        return row.heads if row else {}

    async with asyncio.timeout(5):
        while (await do(kept)).get(str(case.uid)) != 2:
            await asyncio.sleep(0.02)
