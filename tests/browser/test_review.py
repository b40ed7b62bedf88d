"""The replay in a browser: stepping through what was stored, ages as they were then, and the review that is written."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from consult.models import Case, Review
from tests.browser.axe import faults_in_light_and_dark
from tests.browser.conftest import SignIn, Transport
from tests.browser.large_pages import leave_some


def replayed(sign_in: SignIn, transport: Transport, **how: Any) -> Page:
    """The replay of a consult with two pressures and a request, at its last entry."""
    transport.vitals(sbp=74, dbp=44, bp_method="cuff", hr=128)
    transport.vitals(sbp=120, dbp=80, bp_method="cuff", hr=100)
    transport.ask(30)
    page = sign_in("averill", f"/history/{transport.uid}/?seq=9999", **how)
    page.wait_for_url("**/history/**")
    expect(page.locator("#replay-card .card")).to_be_visible()
    return page


def test_the_head_of_the_history_stands_on_one_line_at_a_middle_width(sign_in: SignIn):
    page = sign_in("averill", "/history/")
    page.set_viewport_size({"width": 1024, "height": 768})
    tops = {round(each.bounding_box()["y"] // 20) for each in page.locator(".strip > :is(nav, .menu, #sound)").all()}
    assert len(tops) == 1, "pages, sound and menu begin on one line"


@pytest.fixture
def replay(sign_in: SignIn, transport: Transport) -> Page:
    return replayed(sign_in, transport)


def last_entry(transport: Transport) -> int:
    return Case.objects.get(uid=transport.uid).seq


def test_keys_and_buttons_step_through_the_journal(replay: Page, transport: Transport):
    last = last_entry(transport)
    entry, shown = replay.locator("#entry"), replay.locator("#replay-card .map-value")
    expect(shown).to_have_text("93")

    replay.keyboard.press("Home")
    expect(entry).to_have_text("1")
    expect(shown).to_have_text("not taken")
    replay.keyboard.press("ArrowRight")
    expect(entry).to_have_text("2")
    expect(shown).to_have_text("54")
    replay.keyboard.press("End")
    expect(entry).to_have_text(str(last))
    expect(shown).to_have_text("93")
    replay.get_by_role("button", name="Back one").click()
    expect(entry).to_have_text(str(last - 1))


def test_the_current_entry_is_marked_and_the_address_leads_back_to_it(replay: Page, transport: Transport):
    replay.locator('#journal [data-seq="2"]').click()

    expect(replay.locator("#journal [aria-current=step]")).to_contain_text("74/44")
    expect(replay.locator("#slider")).to_have_value("2")
    expect(replay).to_have_url(f"{replay.url.split('?')[0]}?seq=2")
    replay.reload()
    expect(replay.locator("#replay-card .map-value")).to_have_text("54")


@pytest.mark.night
def test_ages_stand_still_at_the_moment_of_the_entry(sign_in: SignIn, transport: Transport):
    replay = replayed(sign_in, transport, clock=True)
    replay.locator('#journal [data-seq="2"]').click()
    expect(replay.locator("#replay-card .map-value")).to_have_text("54")
    age = replay.locator("#replay-card .map-head .age")
    expect(age).to_have_text("0 s ago")

    replay.clock.fast_forward(60_000)

    expect(age).to_have_text("0 s ago")


@pytest.mark.night
def test_the_journal_steps_by_the_slider_too(replay: Page):
    replay.locator("#slider").fill("1")

    expect(replay.locator("#entry")).to_have_text("1")
    assert "entry 1 of" in (replay.locator("#slider").get_attribute("aria-valuetext") or "")


@pytest.mark.night
def test_typing_a_review_does_not_step(replay: Page, transport: Transport):
    field = replay.get_by_label("What you found")
    field.fill("seen")
    field.press("Home")
    field.press("ArrowLeft")

    expect(replay.locator("#entry")).to_have_text(str(last_entry(transport)))


def test_a_review_is_written_once_and_stands_in_the_journal(replay: Page):
    replay.get_by_label("What you found").fill("The infusion could have come sooner.")
    replay.get_by_label("Learning").check()
    replay.get_by_role("button", name="Write the review").click()

    expect(replay.locator("#reviews")).to_contain_text("The infusion could have come sooner.")
    expect(replay.locator("#journal")).to_contain_text("Review")
    assert [(row.text, row.outcome) for row in Review.objects.all()] == [
        ("The infusion could have come sooner.", "learning")
    ]


def test_nothing_on_the_card_can_be_pressed(replay: Page):
    for button in replay.locator("#replay-card button").all():
        expect(button).to_be_disabled()


@pytest.mark.night
def test_axe_finds_nothing_serious(sign_in: SignIn, transport: Transport):
    transport.vitals(sbp=74, dbp=44, bp_method="cuff", hr=128)
    transport.ask(30)
    page = sign_in("averill", "/history/")
    page.wait_for_url("**/history/")
    address = page.url.removesuffix("/history/")

    for path in ("/history/", f"/history/{transport.uid}/", "/rules/"):
        page.goto(address + path)
        if path == "/rules/":
            leave_some(page)
        assert faults_in_light_and_dark(page) == [], path
