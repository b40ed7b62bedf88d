"""A phone whose clock is off: its entries say so, the board shows them where they belong, the page shows true times."""

from __future__ import annotations

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.models import Vitals
from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone

AHEAD = timedelta(minutes=30)
CLOCK_AHEAD = """
const real = Date, ahead = %d;
window.Date = class extends real {
  constructor(...told) { told.length ? super(...told) : super(real.now() + ahead); }
  static now() { return real.now() + ahead; }
};
"""


@pytest.fixture
def phone(sign_in: SignIn, transport: Transport) -> Phone:
    """On the page for vitals, with a clock half an hour ahead."""
    page = sign_in("osk", f"/crew/{transport.uid}/vitals/", **PHONE)
    page.wait_for_url("**/crew/**")
    page.add_init_script(CLOCK_AHEAD % (AHEAD / timedelta(milliseconds=1)))
    return Phone(page, str(transport.uid)).open("vitals/")


def enter(phone: Phone, heart_rate: int) -> None:
    phone.type(hr=heart_rate)
    phone.main.click()


def test_an_entry_and_a_batch_stand_at_their_true_time(phone: Phone):
    began = clock.now()
    enter(phone, 101)
    expect(phone.outcome).to_contain_text("Sent")
    phone.cut()
    for heart_rate in (102, 103):
        phone.page.get_by_role("button", name="Another reading").click()
        enter(phone, heart_rate)
        expect(phone.outcome).to_contain_text("Kept on this phone")
    phone.mend()
    expect(phone.link).to_have_text("All sent")

    rows = list(Vitals.objects.order_by("seq"))
    assert [row.data["hr"] for row in rows[-3:]] == [101, 102, 103]
    assert all(abs(row.clock_offset_s + AHEAD.total_seconds()) <= 2 for row in rows[-3:])
    assert all(began - timedelta(seconds=2) <= row.taken_at <= clock.now() for row in rows[-3:])


def test_the_page_shows_the_servers_time(phone: Phone):
    enter(phone, 101)
    expect(phone.outcome).to_contain_text("Sent")
    shown = phone.page.locator("#link-sent").inner_text().removeprefix("last sent ")
    expected = {(clock.now() - timedelta(seconds=back)).strftime("%H:%M:%S")[:5] for back in (0, 60)}
    assert shown[3:5] in {each[3:5] for each in expected}
