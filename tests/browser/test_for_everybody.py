"""WCAG 2.2 AA by axe, nothing refused by the content policy, and no page wider than a phone."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.conftest import SignIn, Transport

PHONE = (390, 844)
SERIOUS = ("serious", "critical")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

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


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_serious(open_page: Open, path: str, scheme: str):
    page = open_page(path, color_scheme=scheme)

    found = Axe().run(page, options={"runOnly": TAGS}).response["violations"]

    told = [
        (fault["id"], [node["html"][:120] for node in fault["nodes"]]) for fault in found if fault["impact"] in SERIOUS
    ]
    assert told == []


@pytest.mark.parametrize("density", ["Roomy", "Dense"])
def test_axe_finds_nothing_serious_in_either_density(open_page: Open, density: str):
    page = open_page("/board/")
    page.get_by_role("button", name=density).click()

    found = Axe().run(page, options={"runOnly": TAGS}).response["violations"]

    assert [fault["id"] for fault in found if fault["impact"] in SERIOUS] == []


@pytest.mark.parametrize("path", PAGES)
def test_no_page_is_wider_than_a_phone(open_page: Open, path: str):
    page = open_page(path, size=PHONE)

    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize("path", PAGES)
def test_the_content_policy_refuses_nothing_of_ours(open_page: Open, path: str):
    page = open_page(path)
    told: list[str] = []
    page.on("console", lambda message: told.append(message.text))
    page.on("pageerror", lambda error: told.append(str(error)))

    page.reload()
    page.wait_for_load_state()
    if path != "/choose/":
        expect(page.locator("#live-word")).to_have_text("Live")

    assert told == []


def test_a_keyboard_reaches_the_decision(open_page: Open):
    page = open_page("/board/")
    wanted = page.locator(".ask-approve")

    for _ in range(40):
        page.keyboard.press("Tab")
        if wanted.evaluate("element => element === document.activeElement"):
            break

    expect(wanted).to_be_focused()
    assert wanted.evaluate("element => getComputedStyle(element).outlineStyle") == "solid"


@pytest.mark.parametrize("name", ["Approve", "Change", "Query", "Decline", "Acknowledge"])
def test_targets_are_large_enough(open_page: Open, name: str):
    box = open_page("/board/").get_by_role("button", name=name).first.bounding_box()

    assert box
    assert min(box["width"], box["height"]) >= 24
