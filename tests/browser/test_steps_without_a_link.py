"""A rate stepped up by order without a link: what this phone knows counts as the server counts it."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Take, Transport
from tests.browser.test_stepped_up import started, step_button


@pytest.mark.parametrize(
    ("sbp", "dbp", "told"),
    [(88, 49, "Up to 0.1 mcg/kg/min = 30 mL/h now"), (110, 70, "At the goal: no step now")],  # MAP 62, and 83.3
)
def test_a_pressure_that_waits_on_this_phone_counts_as_the_server_counts_it(
    take: Take, transport: Transport, sbp: int, dbp: int, told: str
):
    """The newest pressure answers what was asked for after the rate, and the next one is due 5 min after it."""
    order, _ = started(transport, 6)
    phone = take("vitals/")
    phone.cut()
    phone.type(sbp=sbp, dbp=dbp)
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")

    due = phone.page.locator(".due:visible")
    for path in ("", f"orders/{order}/"):
        phone.open(path)
        expect(phone.page.get_by_role("link", name="A pressure first")).to_be_hidden()
        expect(step_button(phone)).to_contain_text(told)
        expect(due).to_contain_text(re.compile(r"from the pressure at \d\d:\d\d · this phone"))
    waits = due.locator("p").first.inner_text()
    phone.mend()
    expect(phone.link).to_have_text("All sent")
    phone.open()
    expect(step_button(phone)).to_contain_text(told)
    expect(due.locator("p").first).to_have_text(waits.removesuffix(" · this phone"))


def test_a_step_that_waits_on_this_phone_is_not_offered_once_more(take: Take, transport: Transport):
    transport.vitals(sbp=84, dbp=44)
    started(transport, 4)
    phone = take("")
    phone.cut()
    step_button(phone).click()
    expect(phone.outcome).to_contain_text("Kept on this phone")

    expect(step_button(phone.open())).to_contain_text("Recorded: 0.1 mcg/kg/min")
    expect(step_button(phone)).to_have_attribute("aria-disabled", "true")


@pytest.mark.night
def test_a_pressor_stopped_on_this_phone_asks_for_no_further_pressure(take: Take, transport: Transport):
    _, dose = started(transport, 6)
    phone = take("vitals/")
    phone.cut()
    phone.type(sbp=110, dbp=70)
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")
    phone.open(f"change/{dose}/").pick("Stopped early")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")

    phone.open()
    expect(phone.page.locator('[data-part="dues"]')).to_contain_text("answered on this phone, not sent yet")
    expect(phone.page.locator(".due:visible")).to_have_count(0)
    expect(phone.page.locator('[data-part="running"]')).to_contain_text("Stopped, recorded on this phone")
