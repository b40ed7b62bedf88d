"""`?html=1`: our own pages get the drawn card with each message; each is drawn once for a whole process."""

from uuid import uuid4

import pytest

from consult import zone
from consult.live.hub import Hub, Pace
from consult.live.picture import Picture
from consult.models import Agency, Case
from tests.conftest import NOON
from tests.live.cast import change, open_case

pytestmark = pytest.mark.django_db(transaction=True)
PAGE = "/ws/board/?html=1"


@pytest.fixture
def drawn():
    return []


@pytest.fixture
async def hub(drawn):
    def draw(card):
        drawn.append((card["case"], card["seq"]))
        return f"<article>{card['seq']}</article>"

    return Hub(Pace(heal=0.1, tick=0.2), Picture(draw))


async def test_hello_carries_every_card_drawn(cast, watch, do):
    case = await do(open_case, cast.osk)

    page = await watch(path=PAGE)

    assert page.hello["html"] == {str(case.uid): "<article>1</article>"}


async def test_a_card_comes_with_its_drawing(cast, watch, do):
    case = await do(open_case, cast.osk)
    page = await watch(path=PAGE)

    await do(change, case)

    message = await page.news()
    assert message["html"] == "<article>2</article>"
    assert message["card"]["seq"] == 2


async def test_programs_get_none_and_nothing_is_drawn_for_them(cast, watch, do, drawn):
    case = await do(open_case, cast.osk)
    board = await watch()

    await do(change, case)

    assert "html" not in await board.news()
    assert "html" not in board.hello
    assert drawn == []


async def test_each_card_is_drawn_once_for_all_pages(cast, watch, do, drawn):
    case = await do(open_case, cast.osk)
    pages = [await watch(who, PAGE) for who in ("merrin", "averill", "sorrel")]
    pages.append(await watch("osk", f"/ws/cases/{case.uid}/?html=1"))

    await do(change, case)
    for page in pages:
        await page.until(lambda p: p.seqs(str(case.uid)) == [2])

    assert drawn == [(str(case.uid), 1), (str(case.uid), 2)]


async def test_a_page_is_told_of_a_going_and_whose_the_case_was(cast, watch, do):
    case = await do(open_case, cast.osk)
    page = await watch(path=PAGE)
    unit, ended = {"id": str(case.unit_id), "call_sign": "Kestrel 2"}, "2026-01-05T03:14:20Z"
    shown = {"unit": unit, "patient": {"label": "B"}, "physician": {"id": "merrin"}, "ended_at": ended}

    await do(change, case, state="closed", shown=shown)

    told = await page.news()
    assert (told["type"], told["case"]) == ("gone", str(case.uid))
    assert told["ended"] == {"whom": "Kestrel 2 B", "physician": "merrin", "state": "closed", "ended_at": ended}


async def test_a_card_is_drawn_in_the_time_of_its_agency(cast, watch, do, hub):
    def draw(card):
        return zone.clock(NOON)

    hub.picture = Picture(draw)
    await do(Agency.objects.filter(pk=cast.osk.agency).update, timezone="America/Denver")
    await do(Agency.objects.filter(pk=cast.tarn.agency).update, timezone="Asia/Tokyo")
    here, there = await do(open_case, cast.osk), await do(open_case, cast.tarn)

    page, other = await watch(path=PAGE), await watch("vane", PAGE)
    await do(change, here)
    await do(change, there)

    assert (page.hello["html"], other.hello["html"]) == ({str(here.uid): "05:00"}, {str(there.uid): "21:00"})
    assert [(await each.news())["html"] for each in (page, other)] == ["05:00", "21:00"]


async def test_a_card_is_drawn_anew_when_its_agency_moves_to_another_zone(cast, watch, do, drawn):
    await do(open_case, cast.osk)
    await watch(path=PAGE)
    await do(Agency.objects.filter(pk=cast.osk.agency).update, timezone="Asia/Tokyo")

    await watch(path=PAGE)

    assert len(drawn) == 2


async def test_a_drawing_is_never_taken_for_another_cases(cast, watch, do, drawn):
    """A key that comes again, as after a database was put back, is another case."""
    case = await do(open_case, cast.osk)
    await watch(path=PAGE)
    await do(Case.objects.filter(pk=case.pk).update, uid=uuid4())

    await watch(path=PAGE)

    assert len(drawn) == 2
