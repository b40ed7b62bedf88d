"""The dense board: where somebody has to decide it says all that the roomy one says; elsewhere less."""

from __future__ import annotations

from uuid import uuid4

import pytest
from playwright.sync_api import Page, expect

from consult import clock
from consult.actions import cases, interventions
from tests.browser.conftest import SignIn, Transport

# The drawing of the trend is another one; for whom, and how long an alert is known, stands elsewhere.
SMALLER = ".trend-box, .bar, .alarm-text small, .ask[data-step='requested'] .ask-for"
SEEN = """(smaller) => [...document.querySelectorAll(".card *")]
  .map((each, place) => [each, place])
  .filter(([each]) => !each.closest(smaller) && each.checkVisibility({ visibilityProperty: true }))
  .filter(([each]) => [...each.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
  .map(([each, place]) => `${place} ${each.tagName} ${each.className}`)"""


def fluid(transport: Transport) -> None:
    now = clock.now()
    bolus = {
        "treatment": "crystalloid-bolus",
        "amount": {"value": 500, "unit": "mL"},
        "route": "IV",
        "over_min": 15,
        "status": "running",
    }
    interventions.record_intervention(transport.team.osk, transport.uid, {"id": uuid4(), "given_at": now, **bolus}, now)


def dense(page: Page) -> None:
    page.locator("[data-set-density='dense']").click()
    page.mouse.move(0, 0)


@pytest.fixture
def asking(transport: Transport) -> Transport:
    """A crew that asks while a bolus runs and a push dose waits for its reading, after a low sugar."""
    transport.vitals(
        sbp=74, dbp=44, bp_method="cuff", hr=128, spo2=92, rr=28, temp_c=36, glucose_mg_dl=58, lungs="clear"
    )
    fluid(transport)
    transport.give(10)
    transport.ask(30)
    return transport


def test_a_card_with_a_request_leaves_nothing_out_when_dense(asking: Transport, sign_in: SignIn):
    """Nobody is held to a decision by what the board did not show."""
    page = sign_in("merrin", "/board/")
    page.locator("[data-set-density='roomy']").click()
    expect(page.locator("[data-made]")).to_contain_text("checked again")
    roomy = page.evaluate(SEEN, SMALLER)

    dense(page)

    assert set(roomy) - set(page.evaluate(SEEN, SMALLER)) == set()
    card = page.locator(".card")
    for said in ("no response to fluid", "crystalloid bolus", "58", "weak, pale", "after", "shock index"):
        expect(card.get_by_text(said).locator("visible=true").first).to_be_visible()


def test_a_board_that_becomes_dense_by_itself_says_so_with_a_way_back(transport: Transport, sign_in: SignIn):
    page = sign_in("merrin", "/board/", clock=True)
    told = page.locator("#made-dense")
    expect(told).to_be_hidden()

    page.evaluate(
        """() => {
          const board = document.getElementById("cards");
          for (let more = 0; more < 6; more += 1) board.append(board.firstElementChild.cloneNode(true));
          board.dispatchEvent(new Event("pointerleave"));
        }"""
    )

    expect(page.locator("#cards")).to_have_attribute("data-density", "dense")
    told.get_by_role("button", name="Back to roomy").click()
    expect(page.locator("#cards")).to_have_attribute("data-density", "roomy")
    expect(told).to_be_hidden()
    page.locator("#cards").dispatch_event("pointerleave")
    expect(page.locator("#cards")).to_have_attribute("data-density", "roomy")


def test_a_card_without_one_is_short_but_names_who_has_control_what_runs_and_what_is_dangerous(
    transport: Transport, sign_in: SignIn
):
    transport.vitals(sbp=84, dbp=64, bp_method="cuff", hr=88, spo2=97, glucose_mg_dl=38)
    fluid(transport)
    transport.give(10)
    cases.accept(transport.team.merrin, transport.uid, {"id": uuid4()}, clock.now())
    page = sign_in("merrin", "/board/")
    dense(page)
    card = page.locator(".card")

    expect(card.locator(".who-by")).to_have_text("Dr. Merrin")
    expect(card.locator(".who-by")).to_be_visible()
    expect(card.locator(".line.given[data-running]")).to_be_visible()
    expect(card.locator(".sign[data-level]").first).to_be_visible()
    expect(card.locator(".who-complaint")).to_be_hidden()
