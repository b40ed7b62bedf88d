"""What a board is told: the whole picture, then every card, going and tick, in order."""

from datetime import timedelta

import pytest

from consult import clock
from consult.actions import alerts
from tests.live.cast import change, open_case

pytestmark = pytest.mark.django_db(transaction=True)


async def test_hello_is_the_whole_picture(cast, watch, do):
    cases = [await do(open_case, cast.osk) for _ in range(3)]

    board = await watch()

    assert board.hello["type"] == "hello"
    assert board.hello["server_time"].endswith("Z")
    assert set(board.cards) == {str(case.uid) for case in cases}


async def test_a_committed_write_comes_as_a_card(cast, watch, do):
    case = await do(open_case, cast.osk)
    board = await watch()

    seq = await do(change, case)

    message = await board.news()
    assert message == {"type": "card", "case": str(case.uid), "seq": seq, "card": board.cards[str(case.uid)]}
    assert message["card"]["seq"] == seq


@pytest.mark.parametrize("state", ["handed_over", "closed"])
async def test_an_ended_case_goes_and_a_reopened_one_comes_back(state, cast, watch, do):
    case = await do(open_case, cast.osk)
    board = await watch()

    await do(change, case, state=state)
    assert await board.news() == {"type": "gone", "case": str(case.uid)}

    seq = await do(change, case, state="open")
    assert (await board.news())["seq"] == seq
    assert str(case.uid) in board.cards


async def test_a_late_entry_to_an_ended_case_is_not_told(cast, watch, do):
    case = await do(open_case, cast.osk)
    await do(change, case, state="closed")
    board = await watch()

    await do(change, case)

    assert board.cards == {}
    assert await board.nothing_more()


async def test_a_tick_names_the_server_time_and_every_head(cast, watch, do):
    case, other = await do(open_case, cast.osk), await do(open_case, cast.osk)
    board = await watch()
    await do(change, case)
    await do(change, other, state="closed")

    await board.until(lambda b: b.seqs(str(case.uid)) == [2] and str(other.uid) not in b.cards)
    await board.until(lambda b: b.seen[-1]["type"] == "tick")

    assert board.seen[-1].keys() == {"type", "server_time", "heads", "sweep_age_s"}
    assert board.seen[-1]["heads"] == {str(case.uid): 2}


async def test_a_tick_tells_how_long_ago_the_sweep_ran(cast, watch, do):
    board = await watch()
    await board.until(lambda b: b.seen[-1]["type"] == "tick")
    assert board.seen[-1]["sweep_age_s"] is None

    await do(alerts.sweep, clock.now() - timedelta(seconds=31))
    await board.until(lambda b: b.seen[-1].get("sweep_age_s"))
    assert 31 <= board.seen[-1]["sweep_age_s"] < 60

    await do(alerts.sweep, clock.now())
    await board.until(lambda b: (b.seen[-1].get("sweep_age_s") or 60) < 30)


async def test_cards_never_come_out_of_order(cast, watch, do):
    case = await do(open_case, cast.osk)
    board = await watch()

    for _ in range(30):
        await do(change, case)

    await board.until(lambda b: b.cards[str(case.uid)]["seq"] == 31)
    seqs = board.seqs(str(case.uid))
    assert seqs == sorted(set(seqs))


async def test_a_case_page_is_told_of_its_case_alone(cast, watch, do):
    case, other = await do(open_case, cast.osk), await do(open_case, cast.osk)
    page = await watch("osk", f"/ws/cases/{case.uid}/")
    assert set(page.cards) == {str(case.uid)}

    await do(change, other)
    await do(change, case)

    assert (await page.news())["case"] == str(case.uid)
    assert await page.nothing_more()


async def test_the_page_of_an_ended_case_says_hello_with_nothing(cast, watch, do):
    case = await do(open_case, cast.osk)
    await do(change, case, state="handed_over")

    page = await watch("merrin", f"/ws/cases/{case.uid}/")
    assert page.cards == {}

    await do(change, case, state="open")
    await page.until(lambda p: str(case.uid) in p.cards)
