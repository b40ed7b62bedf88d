"""A kept page once there is a link again: the latest comes by itself, but never over what is half typed.

And a page that was made for a weight which is another one by now, with a link and without.
"""

from __future__ import annotations

import re
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import cases, orders
from tests.browser.conftest import Take, Transport
from tests.browser.crew_phone import Phone
from tests.browser.test_crew_without_a_link import CONTROLLED, PUSH, cut, give, mend, until


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
    expect(told).to_contain_text("Offline. As of")
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


def test_an_older_page_tells_what_the_newest_kept_one_was_told_and_the_last_push(kept: Phone, transport: Transport):
    """By the formula: 74/44 is a MAP of 54, 70/42 one of 51.3; a push lasts as its page says."""
    mend(kept)
    kept.open(PUSH)
    until(kept, "give/", PUSH)
    kept.open("give/")
    transport.vitals(sbp=70, dbp=42)
    expect(kept.page.locator('[data-part="last"]')).to_contain_text("51")
    cut(kept)
    last = kept.open(PUSH).page.locator('[data-part="last"]')
    expect(kept.page.locator("#kept")).to_be_visible()
    expect(last).to_contain_text("51")
    give(kept)
    expect(kept.open(PUSH).page.locator("#wears-off")).to_have_text(
        re.compile(r"^Last push [\d:]{8} wears off [\d:]{8} to [\d:]{8} · this phone$")
    )


def test_the_read_back_of_an_order_is_kept_as_soon_as_it_is_decided(take: Take, transport: Transport):
    phone = take("", service_workers="allow")
    phone.page.evaluate(CONTROLLED)
    order = transport.ask()
    transport.decide(order, transport.team.merrin, decision="approve", reason="agreed")
    until(phone, f"orders/{order}/", f"orders/{order}/readback/")
    cut(phone)
    phone.open(f"orders/{order}/").main.click()

    expect(phone.page.get_by_role("heading", name="Read back what is set up")).to_be_visible()


BOLUS = "give/crystalloid-bolus/"
DRIP = "orders/request/?treatment=norepinephrine-infusion"
ANEW = """async ([paths, before]) => {
  const page = (path) => caches.match(new URL(path, location.href).href, { ignoreVary: true });
  const whom = async (path) => (await page(path))?.headers.get("X-Made-For") ?? before;
  while ((await Promise.all(paths.map(whom))).includes(before)) await new Promise((look) => setTimeout(look, 50));
}"""


class TestAnotherWeight:
    """By arithmetic: 1,000 mL are 12.5 mL/kg of 80 kg, 16.1 of 62; 0.1 mcg/kg/min of 16 mcg/mL run at 23.3 mL/h."""

    @pytest.fixture
    def phone(self, take: Take, transport: Transport) -> Phone:
        transport.vitals(sbp=74, dbp=44)
        asked = {"treatment": "norepinephrine-infusion", "route": "IV", "action": "start", "reason": "no response"}
        rate = {"amount": {"value": 0.1, "unit": "mcg/kg/min"}, "concentration": {"value": 16, "unit": "mcg/mL"}}
        now = clock.now()
        orders.request_order(transport.team.osk, transport.uid, {"id": uuid4(), "at": now, **asked, **rate}, now)
        phone = take(BOLUS, service_workers="allow")
        phone.page.evaluate(CONTROLLED)
        until(phone, "", "patient/", "vitals/", "orders/", BOLUS, DRIP)
        return phone

    def weigh(self, phone: Phone, kilograms: int, outcome: str) -> None:
        phone.open("patient/").type(**{"patient.weight.value": kilograms})
        phone.page.locator('[name="patient.weight.basis"][value="measured"]').check(force=True)
        phone.main.click()
        expect(phone.outcome).to_contain_text(outcome)
        expect(phone.outcome).to_contain_text(f"{kilograms} kg measured")
        expect(phone.outcome.locator(".outcome-who")).to_contain_text(f"58 y male A, {kilograms} kg measured")

    def test_what_is_kept_is_made_for_the_newest_weight_at_once(self, phone: Phone):
        expect(phone.page.locator("#entry")).to_contain_text("12.5 mL/kg")
        before = phone.page.evaluate("document.body.dataset.madeFor")
        self.weigh(phone, 62, "Sent")
        paths = [f"/crew/{phone.case}/{path}" for path in (BOLUS, DRIP, "vitals/", "handover/")]
        phone.page.evaluate(ANEW, [paths, before])
        cut(phone)
        expect(phone.open(BOLUS).page.locator("#entry")).to_contain_text("16.1 mL/kg")
        expect(phone.page.locator("#made-for")).to_have_count(0)
        phone.open(DRIP).page.locator('[name="concentration"]').first.check(force=True)
        expect(phone.page.locator('label.pick:has([value="0.1 mcg/kg/min"])')).to_contain_text("23.3 mL/h")
        expect(phone.open("vitals/").main).to_contain_text("62 kg measured")

    def test_a_weight_that_waits_here_takes_the_amounts_away_until_the_latest_page_is_there(self, phone: Phone):
        cut(phone)
        self.weigh(phone, 50, "Kept on this phone")
        expect(phone.open("vitals/").main).to_contain_text("58 y male A, 50 kg measured")
        expect(phone.page.locator("#made-for")).to_have_count(0)
        for path in ("", "orders/"):
            expect(phone.open(path).page.locator("#made-for")).to_contain_text("The weight is 50 kg measured now")
            expect(phone.page.locator('[data-part="orders"]')).to_contain_text("0.1 mcg/kg/min")
            expect(phone.page.get_by_text("30 mL/h").locator("visible=true")).to_have_count(0)
        told = phone.open(BOLUS).page.locator("#made-for")
        expect(told).to_contain_text("made for 80 kg measured. The weight is 50 kg measured now")
        expect(phone.page.locator(".patient")).to_contain_text("50 kg measured")
        expect(phone.page.get_by_text("12.5 mL/kg").locator("visible=true")).to_have_count(0)
        expect(phone.page.locator("label.pick:has([name=dose]):visible")).to_have_text(["Other"])
        phone.pick("IV")
        phone.pick("Other")
        phone.type(**{"amount.value": 500})
        expect(phone.main).to_contain_text("Made for 80 kg measured, now 50 kg measured")
        expect(phone.main).to_have_attribute("aria-disabled", "true")
        phone.page.locator("#already > summary").click()
        expect(phone.main).to_contain_text("Record as given")
        mend(phone)
        told.get_by_role("link", name="Show the latest").click(timeout=20_000)
        expect(phone.ready().page.locator("#entry")).to_contain_text("20 mL/kg")
        expect(phone.page.locator("[name='amount.value']")).to_have_value("500")
        expect(told).to_have_count(0)

    def test_a_dose_that_is_the_same_at_any_weight_can_still_be_given(self, phone: Phone):
        """A push of epinephrine is 10 to 20 mcg for an adult: common practice, no source per kg."""
        until(phone, PUSH)
        cut(phone)
        self.weigh(phone, 50, "Kept on this phone")
        give(phone.open(PUSH))
        expect(phone.page.locator("#made-for")).to_have_count(0)
        expect(phone.outcome.locator(".outcome-who")).to_contain_text("50 kg measured")
        phone.open("patient/").page.locator('[name="impression"][value="cardiogenic"]').check(force=True)
        phone.main.click()
        expect(phone.outcome).to_contain_text("Kept on this phone")
        expect(phone.open(PUSH).page.locator("#made-for")).to_be_visible()
        expect(phone.page.locator("label.pick:has([name=dose]):visible")).to_have_text(["Other"])

    def test_with_a_link_the_page_comes_anew_or_is_held_where_something_is_typed(
        self, phone: Phone, transport: Transport
    ):
        def weighed(kilograms: int) -> None:
            weight = {"value": kilograms, "unit": "kg", "basis": "measured"}
            data = {"id": uuid4(), "patient": {"weight": weight}}
            cases.patch_case(transport.team.osk, transport.uid, data, clock.now())

        weighed(62)
        expect(phone.page.locator("#entry")).to_contain_text("16.1 mL/kg")
        phone.ready().pick("IV")
        weighed(50)
        expect(phone.page.locator("#made-for")).to_contain_text("The weight is 50 kg measured now")
        expect(phone.main).to_contain_text(re.compile("Made for 62 kg measured.*50 kg measured"))
        phone.page.get_by_role("link", name="Show the latest").click()
        expect(phone.ready().page.locator("#entry")).to_contain_text("20 mL/kg")
        expect(phone.page.locator('[name="route"][value="IV"]')).to_be_checked()
