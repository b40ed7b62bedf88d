"""The medical director changes a number in the form; open boards are told at once, also those without a case."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from consult import access, clock
from consult.actions import accounts, rule_sets
from consult.models import Agency, User
from dosing.load import reader
from tests.browser.conftest import SignIn, Team, Transport

FORM = "/rules/change/?entry=treatments.epinephrine-push-dose.bands.1.most"
TOLD_WITHIN_MS = 10_000  # by a tick, and a rule set is read first


@pytest.fixture
def director(team: Team, password_hash: str) -> str:
    user = User.objects.create(username="sorrel", first_name="Dr.", last_name="Sorrel", password=password_hash)
    accounts.make_member(Agency.objects.get(), "director", user=user)
    return "sorrel"


def lower_the_most(page: Page) -> None:
    page.get_by_label("Amount, new number").fill("15")
    page.get_by_label("Source of the new number").select_option("new")
    page.get_by_label("Title, edition, place").fill("Protocol of the agency, page 12")
    page.get_by_label("How well it is known").select_option("read")
    page.locator("#form").get_by_label("Why").fill("the committee agreed")
    page.get_by_role("button", name="Put into the draft").click()


def test_a_number_is_changed_compared_and_adopted_and_a_board_is_told_while_one_works(
    sign_in: SignIn, transport: Transport, director: str
) -> None:
    board = sign_in("merrin", "/board/")
    expect(board.locator("#rules-news")).to_be_hidden()
    page = sign_in(director, FORM)
    lower_the_most(page)
    expect(page.locator("#new .effects")).to_contain_text("15 mcg Protocol of the agency, page 12 checked")
    page.get_by_label("A name of its own, not demonstration").fill("own")
    page.get_by_label("Version").fill("2")
    page.locator("#adopt").get_by_label("Why").fill("yearly revision")
    page.get_by_label("numbers are unverified").check()
    page.get_by_role("button", name="Approve as Dr. Sorrel").click()
    page.wait_for_url("**/rules/")

    notice = board.locator("#rules-news")
    expect(notice).to_contain_text("own 2 is in force in place of demonstration 1", timeout=TOLD_WITHIN_MS)
    expect(board.locator("#announce")).to_contain_text("Rules in force now: Rules own 2")
    notice.get_by_role("link", name="See what changed").click()
    expect(board.locator(".effects")).to_contain_text("EPINEPHrine push dose: maximum without an order")
    board.go_back()
    notice.get_by_role("button", name="I have read it").press("Enter")
    expect(notice).to_be_hidden()
    assert board.evaluate("document.activeElement.id") == "main"
    board.reload()
    expect(board.locator(".live-sign circle[data-on]")).to_be_visible()
    expect(notice).to_be_hidden()


def test_a_board_without_a_case_is_told_by_the_next_tick(sign_in: SignIn, team: Team, director: str) -> None:
    board = sign_in("merrin", "/board/")
    expect(board.locator("#live-word")).to_have_text("Live")
    sorrel = access.actor_for_user(User.objects.get(username=director), None, clock.now())

    conservative = reader.load_shipped("conservative")
    rule_sets.adopt(sorrel, conservative, clock.now(), reason="winter", by_way_of="command")

    expect(board.locator("#rules-news")).to_contain_text("adopted by Dr. Sorrel", timeout=TOLD_WITHIN_MS)
    expect(board.locator("#rules-tag")).to_have_text("Rules conservative 1")


@pytest.mark.night
def test_a_footnote_opens_its_source_and_all_parts_open_at_once(sign_in: SignIn, team: Team) -> None:
    page = sign_in("merrin", "/rules/")
    page.locator("#goals .note-ref").first.click()
    expect(page.locator("#sources li:target")).to_be_in_viewport()

    page.get_by_role("button", name="Open all").click()
    expect(page.locator("details.fold:not([open])")).to_have_count(0)
    page.get_by_role("button", name="Close all").click()
    expect(page.locator("details.fold[open]")).to_have_count(0)
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    expect(page.locator("details.fold:not([open])")).to_have_count(0)
