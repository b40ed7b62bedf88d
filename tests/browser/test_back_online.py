"""A kept page once there is a link again: the latest comes by itself, but never over what is half typed."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Take, Transport
from tests.browser.crew_phone import Phone
from tests.browser.test_crew_without_a_link import CONTROLLED, cut, mend, until


@pytest.fixture
def kept(take: Take, transport: Transport) -> Phone:
    transport.vitals(sbp=74, dbp=44)
    phone = take("", service_workers="allow")
    phone.page.evaluate(CONTROLLED)
    until(phone, "", "note/")
    cut(phone)
    return phone


def test_the_latest_page_comes_by_itself(kept: Phone):
    told = kept.open().page.locator("#kept")
    expect(told).to_contain_text("Offline: as of")
    mend(kept)

    expect(told).to_have_count(0, timeout=20_000)
    expect(kept.ready().link).to_have_text("All sent")


def test_over_what_is_half_typed_it_is_only_offered(kept: Phone):
    kept.open("note/").page.locator("textarea").fill("half")
    mend(kept)
    told = kept.page.locator("#kept")

    expect(told.locator("a")).to_have_text("Back online: show the latest", timeout=20_000)
    expect(told).to_contain_text("As of")
    expect(told).not_to_contain_text("Offline")
    expect(kept.page.locator("textarea")).to_have_value("half")
