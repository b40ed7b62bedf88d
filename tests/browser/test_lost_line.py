"""A pressor whose line swells, on the crew's phone: from the reason of its end to another line and to the antidote."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Take, Transport
from tests.browser.test_stepped_up import started

pytestmark = pytest.mark.browser


def test_the_reason_leads_to_the_rate_as_it_ran_and_to_the_antidote(take: Take, transport: Transport):
    transport.vitals(sbp=74, dbp=44)
    _, runs = started(transport, 4)
    phone = take(f"change/{runs}/")
    hint = phone.page.locator("#lost-line")
    phone.pick("Stopped early")
    phone.pick("Fast or irregular pulse")
    expect(hint).to_be_hidden()
    phone.pick("Swelling at the IV or IO site")
    expect(hint).to_contain_text("another line, run it there, the antidote by order")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    phone.page.locator(".outcome a").click()
    off = phone.page.locator('[data-part="off"]')
    expect(off).to_contain_text("swelling at its line: not running elsewhere")
    assert phone.page.evaluate("document.documentElement.scrollWidth <= innerWidth")

    off.get_by_role("link", name="Run it there").click()
    phone.ready()
    expect(phone.page.locator('[name="dose"][value="0.05 mcg/kg/min"]')).to_be_checked()
    expect(phone.page.locator('[name="concentration"][value="16 mcg/mL"]')).to_be_checked()
    phone.open()
    off.get_by_role("link", name="Ask for phentolamine").click()
    phone.ready()
    expect(phone.page.locator("h1")).to_contain_text("phentolamine for extravasation")
