"""WCAG 2.2 AA by axe, nothing refused by the content policy, the keyboard; what is too wide, ``test_fits`` finds."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.axe import faults_in_light_and_dark, serious_faults
from tests.browser.conftest import SignIn, Transport

Open = Callable[..., Page]


@pytest.fixture
def open_page(transport: Transport, sign_in: SignIn) -> Open:
    """A page of a case that shows as much as it can: an alert, a request, a dose, old and new readings."""
    transport.vitals(sbp=96, dbp=44, hr=128, spo2=94, cap_refill_s=4)
    transport.vitals(sbp=74, dbp=44, hr=130, spo2=92)
    transport.ask(30)

    def open_it(path: str, **how: object) -> Page:
        page = sign_in("merrin", path.format(case=transport.uid), **how)
        page.wait_for_load_state()
        if path != "/choose/":
            expect(page.locator("#live-word")).to_have_text("Live")
        return page

    return open_it


PAGES = ["/board/", "/cases/{case}/", "/choose/"]


@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_serious_and_the_content_policy_refuses_nothing_of_ours(open_page: Open, path: str):
    page = open_page(path)
    told: list[str] = []
    page.on("console", lambda message: told.append(message.text))
    page.on("pageerror", lambda error: told.append(str(error)))
    page.reload()
    page.wait_for_load_state()
    if path != "/choose/":
        expect(page.locator("#live-word")).to_have_text("Live")

    assert told == []
    assert faults_in_light_and_dark(page) == []


@pytest.mark.night
def test_axe_finds_nothing_serious_in_either_density(open_page: Open):
    page = open_page("/board/")
    for density in ("Roomy", "Dense"):
        page.get_by_role("button", name=density).click()

        assert serious_faults(page) == [], density


PLANTED = {
    "image-alt": "<img src='data:,'>",
    "label": "<input name='dose'>",
    "color-contrast": "<p style='color: #999; background: #fff'>74/44 mmHg</p>",
}


@pytest.mark.parametrize("fault", PLANTED)
def test_a_planted_fault_is_found(page: Page, fault: str):
    page.set_content(f"<html lang='en'><title>Board</title><main><h1>Kestrel 2</h1>{PLANTED[fault]}</main></html>")

    assert [found for found, _ in serious_faults(page)] == [fault]


@pytest.mark.night
def test_a_fault_of_the_dark_colors_alone_is_found(page: Page):
    dark = "@media (prefers-color-scheme: dark) { body { color: #333; background: #111; } }"
    page.set_content(f"<html lang='en'><title>Board</title><style>{dark}</style><main><h1>Kestrel 2</h1></main></html>")

    assert [found for found, _ in faults_in_light_and_dark(page)] == ["color-contrast"]


def test_a_keyboard_reaches_the_decision(open_page: Open):
    page = open_page("/board/")
    wanted = page.locator(".ask-approve")

    for _ in range(40):
        page.keyboard.press("Tab")
        if wanted.evaluate("element => element === document.activeElement"):
            break

    expect(wanted).to_be_focused()
    assert wanted.evaluate("element => getComputedStyle(element).outlineStyle") == "solid"


def test_targets_are_large_enough(open_page: Open):
    page = open_page("/board/")
    for name in ("Approve", "Change", "Query", "Decline", "Acknowledge"):
        box = page.get_by_role("button", name=name).first.bounding_box()

        assert box, name
        assert min(box["width"], box["height"]) >= 24, name
