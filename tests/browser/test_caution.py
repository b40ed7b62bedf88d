"""The caution stands in the first screen of every page, of every role, on desk and phone, also once one scrolls."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from consult.models import User
from tests.browser.conftest import SignIn, Team, Transport
from tests.depth import thinned

CAUTION = "Decision support: local protocol and the licensed clinician decide."
PAGES = {
    "merrin": "board/ cases/{case}/ cases/{case}/handover/ cases/{case}/label/{drug}/ shift/ rules/"
    " board/downtime/ nothing/ account/password/ api/v1/docs/",
    "averill": "board/ cases/{case}/ history/ history/{case}/ rules/",
    "sorrel": "rules/ rules/change/ rules/adopt/ history/",
    "osk": "crew/ crew/open/ crew/{case}/ crew/{case}/vitals/ crew/{case}/give/ crew/{case}/give/{drug}/"
    " crew/{case}/orders/ cases/{case}/",
}
LINES = 2.2  # of its type, with its border: what it may cost at most


@pytest.fixture
def everybody(team: Team) -> None:
    """The team and a medical director."""
    from consult.actions import accounts
    from consult.models import Agency

    sorrel = User.objects.create(username="sorrel", first_name="Dr.", last_name="Sorrel")
    accounts.make_member(Agency.objects.get(pk=team.merrin.agency), "director", user=sorrel)


def must_be_seen(page: Page) -> None:
    said = page.get_by_text(CAUTION).last
    expect(said).to_be_in_viewport(ratio=1)
    size = said.evaluate("(line) => [line.getBoundingClientRect().height, parseFloat(getComputedStyle(line).fontSize)]")
    assert size[1] >= 11, "small, but it can be read"
    assert size[0] <= LINES * size[1] * 1.6, page.url


@pytest.mark.each_row
@pytest.mark.parametrize("size", [(1440, 900), (390, 844)], ids=["desk", "phone"])
@pytest.mark.parametrize("who", PAGES)
@pytest.mark.usefixtures("everybody")
def test_it_is_seen_at_first_sight_and_after_scrolling(
    who: str, size: tuple[int, int], transport: Transport, sign_in: SignIn
):
    transport.vitals(sbp=74, dbp=44)
    transport.ask(30)
    page = sign_in(who, "/", size)
    first = sorted(PAGES).index(who) + (size[0] < 500)
    for path in thinned(PAGES[who].split(), every=3, first=first):
        page.goto("/".join([*page.url.split("/")[:3], path]).format(case=transport.uid, drug="norepinephrine-infusion"))
        must_be_seen(page)
        page.evaluate("() => scrollTo(0, 400)")
        must_be_seen(page)


def test_the_steps_of_a_replay_stand_above_it(transport: Transport, sign_in: SignIn):
    transport.vitals(sbp=74, dbp=44)
    page = sign_in("averill", f"/history/{transport.uid}/", (390, 844))
    boxes = [page.locator(each).bounding_box() for each in (".scrub", ".foot .caution")]

    assert all(boxes)
    assert boxes[0]["y"] + boxes[0]["height"] <= boxes[1]["y"] + 1  # type: ignore[index]


def test_a_form_that_opens_ends_above_it(transport: Transport, sign_in: SignIn):
    transport.ask(30)
    page = sign_in("merrin", "/board/", (390, 844))
    expect(page.locator("#strip")).to_have_attribute("data-live", "live")

    page.get_by_role("button", name="Decline").click()

    send = page.locator("form[data-name='decline'] [type='submit']")
    expect(send).to_be_in_viewport(ratio=1)
    boxes = [each.bounding_box() for each in (send, page.locator(".foot .caution"))]
    assert all(boxes)
    assert boxes[0]["y"] + boxes[0]["height"] <= boxes[1]["y"]  # type: ignore[index]
