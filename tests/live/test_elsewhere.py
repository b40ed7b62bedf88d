"""A page of one case is told at once when another case of the agency needs something else, and only then."""

import asyncio
from functools import partial

import pytest

from consult import clock
from consult.live.hub import Hub
from consult.live.picture import Picture
from tests.live.cast import change, open_case

pytestmark = pytest.mark.django_db(transaction=True)
HINT = {"type": "elsewhere"}


def warn(case, *alerts, requested=False):
    """The case moves on, with these unacknowledged alerts (id, priority) and perhaps a request."""
    raised = [
        {
            "id": name,
            "kind": "low_pressure",
            "priority": priority,
            "text": "MAP 51",
            "raised_at": clock.stamp(clock.now()),
        }
        for name, priority in alerts
    ]
    change(case, shown={"alerts": raised, "orders": [{"state": "requested"}] if requested else []})


@pytest.fixture
async def hub(pace):
    """What the pages draw of a card is nothing to the hint."""
    return Hub(pace, Picture(lambda card: ""))


@pytest.fixture
async def cases(cast, do):
    """The case whose page is open, another of the agency, and one of another agency."""
    return [await do(open_case, crew) for crew in (cast.osk, cast.lund, cast.tarn)]


@pytest.fixture
async def desk(cases, watch):
    return await quiet(await watch("merrin", f"/ws/cases/{cases[0].uid}/?html=1"), cases)


async def quiet(watcher, cases):
    """The watcher once its hub, which hints at all that it reads for the first time, has read and told these cases."""
    async with asyncio.timeout(3):
        while not all(watcher.hub._told.get(case.pk) for case in cases):
            await asyncio.sleep(0)
    while not await watcher.nothing_more():
        continue
    return watcher


async def test_a_high_alert_of_another_case(cases, desk, do):
    await do(warn, cases[1], ("a", "high"))

    assert await desk.news() == HINT


@pytest.mark.parametrize(
    "then",
    [
        {"alerts": []},
        {"alerts": [("a", "high")]},
        {"alerts": [("a", "medium"), ("b", "high")]},
        {"alerts": [("a", "medium")], "requested": True},
    ],
    ids=["taken or gone", "climbed", "one more", "a request"],
)
async def test_whatever_changes_of_what_it_needs(cases, desk, do, then):
    await do(warn, cases[1], ("a", "medium"))
    assert await desk.news() == HINT

    await do(partial(warn, requested=then.get("requested", False)), cases[1], *then["alerts"])

    assert await desk.news() == HINT


@pytest.mark.parametrize(
    "shown",
    [{"physician": {"id": "q", "name": "Dr. Quillan"}}, {"offered": {"to": {"id": "m", "name": "Dr. Merrin"}}}],
    ids=["a colleague takes control", "one offers it"],
)
async def test_whoever_has_control_of_another_case(cases, desk, do, shown):
    await do(partial(change, cases[1], shown=shown))

    assert await desk.news() == HINT


async def test_a_case_that_ends_needs_nothing_any_more(cases, desk, do):
    await do(warn, cases[1], ("a", "high"))
    assert await desk.news() == HINT

    await do(change, cases[1], state="closed")

    assert await desk.news() == HINT


async def test_readings_of_another_case_tell_it_nothing(cases, desk, do):
    await do(warn, cases[1], ("a", "high"))
    assert await desk.news() == HINT

    for _ in range(3):
        await do(warn, cases[1], ("a", "high"))

    assert await desk.nothing_more()


async def test_another_agencys_alerts_are_no_hint(cases, desk, do):
    await do(warn, cases[2], ("a", "high"))

    assert await desk.nothing_more()


async def test_its_own_alert_comes_as_its_card_alone(cases, desk, do):
    await do(warn, cases[0], ("a", "high"))

    assert (await desk.news())["type"] == "card"
    assert await desk.nothing_more()


@pytest.mark.parametrize(
    ("who", "path"),
    [
        pytest.param("merrin", "/ws/cases/{case}/", id="a program"),
        pytest.param("osk", "/ws/cases/{case}/?html=1", id="the crew"),
    ],
)
async def test_nobody_but_pages_of_those_who_answer_alerts_is_hinted(who, path, cases, watch, do):
    other = await quiet(await watch(who, path.format(case=cases[0].uid)), cases)

    await do(warn, cases[1], ("a", "high"))

    assert await other.nothing_more()


async def test_a_page_that_came_later_misses_no_return_to_what_was_told_before(cases, desk, watch, do):
    await do(warn, cases[1], ("a", "high"))
    assert await desk.news() == HINT
    await desk.leave()
    board = await watch()
    await do(warn, cases[1])
    await board.news()

    later = await quiet(await watch("merrin", f"/ws/cases/{cases[0].uid}/?html=1"), cases)
    await do(warn, cases[1], ("a", "high"))

    assert await later.news() == HINT
