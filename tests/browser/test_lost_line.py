"""A pressor whose line swells, on the crew's phone: from the reason of its end to another line and to the antidote."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import interventions
from consult.case.lost_line import SWELLING
from consult.models import Intervention, Order
from tests.browser.conftest import Take, Transport
from tests.browser.test_stepped_up import started

pytestmark = pytest.mark.browser


def test_the_reason_leads_to_the_rate_as_it_ran_and_to_the_antidote(take: Take, transport: Transport):
    transport.vitals(sbp=74, dbp=44)
    order, runs = started(transport, 4)
    phone = take(f"change/{runs}/")
    hint = phone.page.locator("#lost-line")
    phone.pick("Stopped early")
    phone.pick("Fast or irregular pulse")
    expect(hint).to_be_hidden()
    phone.pick("Swelling at the IV or IO site")
    expect(hint).to_contain_text("another line, “Runs again there”, the antidote by order")
    expect(phone.main).to_contain_text("Record the pause")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    phone.page.locator(".outcome a").click()
    off = phone.page.locator('[data-part="off"]')
    expect(off).to_contain_text("swelling at its line: not running elsewhere")
    assert phone.page.evaluate("document.documentElement.scrollWidth <= innerWidth")

    off.get_by_role("link", name="Runs again there: norepinephrine infusion").click()
    phone.ready()
    expect(phone.page.get_by_label("Runs again at 0.05 mcg/kg/min")).to_be_checked()
    expect(phone.main).to_contain_text("Record that it runs again: norepinephrine infusion")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    assert Intervention.objects.get(uid=runs).status == "running"
    assert Order.objects.get(uid=order).state == "read_back"  # with its steps, at the new line
    phone.open()
    expect(off).not_to_contain_text("norepinephrine")


def test_who_does_not_run_it_again_says_stopped_after_the_reason(take: Take, transport: Transport):
    transport.vitals(sbp=74, dbp=44)
    _, runs = started(transport, 4)
    phone = take(f"change/{runs}/")
    phone.pick("Stopped early")
    phone.pick("The line is lost")
    phone.pick("Stopped early")
    expect(phone.main).to_contain_text("Record the stop")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    phone.page.locator(".outcome a").click()
    phone.page.get_by_role("link", name="Run it there: norepinephrine infusion").click()
    phone.ready()
    expect(phone.page.locator('[name="dose"][value="0.05 mcg/kg/min"]')).to_be_checked()
    expect(phone.page.locator('[name="concentration"][value="16 mcg/mL"]')).to_be_checked()


def test_the_antidote_is_asked_for(take: Take, transport: Transport):
    _, runs = started(transport, 4)
    told = {"id": uuid4(), "at": clock.now(), "status": "held", "reason": SWELLING}
    interventions.change_intervention(transport.team.osk, UUID(runs), told, clock.now())
    phone = take("")
    phone.page.get_by_role("link", name="Ask for phentolamine").click()
    phone.ready()
    expect(phone.page.locator("h1")).to_contain_text("phentolamine for extravasation")
