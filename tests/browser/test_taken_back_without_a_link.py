"""A dose that was marked as entered in error without a link: kept pages tell it no longer as given."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.models import Intervention
from tests.browser.conftest import Take, Transport
from tests.browser.crew_phone import Phone
from tests.browser.test_crew_without_a_link import CONTROLLED, PUSH, cut, give, mend, until

SAID = re.compile("entered in error · this phone, not sent yet")


@pytest.fixture
def phone(take: Take, transport: Transport) -> Phone:
    """A push is on record, told by pages that are kept."""
    transport.vitals(sbp=74, dbp=44)
    transport.give(20)
    phone = take("", service_workers="allow")
    phone.page.evaluate(CONTROLLED)
    until(phone, "", "correction/", "handover/", PUSH)
    return phone


def take_back(phone: Phone) -> None:
    phone.open("correction/").page.locator("label.pick").filter(has_text="20 mcg").click()
    phone.pick("Wrong number")
    phone.main.click()


def test_it_is_struck_through_and_not_offered_again(phone: Phone):
    given = phone.page.locator('[data-part="given"] dd').filter(has_text="20 mcg")
    expect(phone.page.locator("#again")).to_be_visible()
    cut(phone)
    take_back(phone)
    expect(phone.outcome).to_contain_text("Kept on this phone")
    expect(phone.open().page.locator("#kept")).to_be_visible()
    expect(given).to_have_class("struck")
    expect(given).to_contain_text(SAID)
    expect(phone.page.locator("#again")).to_be_hidden()
    for path in ("handover/", PUSH):
        expect(phone.open(path).page.locator(".taken-back")).to_contain_text(
            re.compile("Entered in error: .*20 mcg.* · this phone, not sent yet")
        )

    mend(phone)
    expect(phone.link).to_have_text("All sent", timeout=20_000)
    assert Intervention.objects.get().in_error
    expect(phone.open().page.locator("#kept")).to_have_count(0)
    expect(given).to_have_class("struck")
    expect(given).not_to_contain_text("this phone")


def test_the_time_at_which_a_push_wears_off_is_told_of_none_that_was_taken_back(phone: Phone):
    wears_off = phone.page.locator("#wears-off")
    expect(phone.open(PUSH).page.locator("#wears-off")).to_contain_text("Last push")
    cut(phone)
    take_back(phone)
    expect(phone.outcome).to_contain_text("Kept on this phone")
    expect(phone.open(PUSH).page.locator(".taken-back")).to_be_visible()
    expect(wears_off).to_be_hidden()

    phone.page.locator("#already > summary").click()  # the kept page counts the interval from the other one still
    phone.pick("IV")
    phone.dose("10 mcg")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")
    phone.open(PUSH)
    expect(wears_off).to_have_text(re.compile(r"^Last push [\d:]{8} wears off [\d:]{8} to [\d:]{8} · this phone$"))


def test_what_pushes_came_to_is_left_out_once_this_phone_knows_another(take: Take, transport: Transport):
    transport.vitals(sbp=74, dbp=44)
    for minutes in (6, 3):
        transport.give(20, given_at=clock.now() - timedelta(minutes=minutes))
    drip = "give/epinephrine-infusion/?for=shock"
    phone = take(drip, service_workers="allow")
    expect(phone.page.locator("#from-pushes")).to_contain_text("20 mcg pushed in the 3 min before the last push")
    phone.page.evaluate(CONTROLLED)
    until(phone, drip, PUSH)
    cut(phone)
    give(phone.open(PUSH))
    expect(phone.open(drip).page.locator("#kept")).to_be_visible()
    expect(phone.page.locator("#from-pushes")).to_be_hidden()


def test_what_still_runs_says_so_in_its_row(take: Take, transport: Transport):
    transport.vitals(sbp=74, dbp=44)
    rate = {"unit": "mcg/kg/min", "value": 0.1}
    runs = {"status": "running", "concentration": {"value": 16, "unit": "mcg/mL"}}
    transport.give(0.1, treatment="norepinephrine-infusion", amount=rate, **runs)
    phone = take("correction/")
    phone.cut()
    phone.page.locator("label.pick").filter(has_text="norepinephrine").click()
    phone.pick("Wrong number")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")
    row = phone.open().page.locator('[data-part="running"]')
    expect(row).to_contain_text(re.compile("Entered in error, said on this phone.*not sent yet"))
