"""What this phone has entered and not sent yet: where a page asks for it, or lists what was done, that is said."""

from __future__ import annotations

import re
from datetime import timedelta

from playwright.sync_api import expect

from consult import clock
from tests.browser.conftest import Take, Transport
from tests.browser.crew_phone import Phone

NOT_SENT = "on this phone, not sent yet"


def answer(phone: Phone, order: str, text: str) -> None:
    phone.open(f"orders/{order}/answer/").page.locator("textarea").fill(text)
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")


def measure(phone: Phone) -> None:
    phone.open("vitals/").type(sbp=95, dbp=60)
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")


def give(phone: Phone) -> None:
    phone.open("give/epinephrine-push-dose/").pick("IV")
    phone.dose("10 mcg")
    for step in phone.page.locator(".recipe input:visible").all():
        step.check()
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")


def test_what_this_phone_has_answered_is_said_where_it_is_asked(take: Take, transport: Transport):
    transport.vitals(sbp=84, dbp=54, taken_at=clock.now() - timedelta(minutes=11))
    transport.give(10, given_at=clock.now() - timedelta(minutes=10))  # its pressure was due long ago
    order = transport.ask(30)
    transport.decide(order, transport.team.merrin, decision="ask", text="How is the refill?")
    phone = take("")
    page, alarm = phone.page, phone.page.locator(".alarm", has_text="No pressure after")
    expect(alarm).to_be_visible()
    phone.cut()
    expect(page.locator(".pages .count")).to_contain_text("1")
    answer(phone, order, "4 s")
    measure(phone)
    give(phone)

    phone.open()
    given = page.locator('[data-part="given"]')
    expect(given.locator("dd").first).to_have_text(
        re.compile(r"Given: EPINEPHrine push dose 10 mcg.* · this phone, not sent yet$")
    )
    expect(given.locator("dd")).to_have_count(2)
    expect(alarm).to_contain_text(f"Answered {NOT_SENT}")
    expect(page.locator("#signs-before")).to_be_visible()  # they are of the set before
    expect(page.locator('[data-part="dues"]')).to_contain_text(f"answered {NOT_SENT}")
    expect(page.locator('[data-part="orders"] .when:visible')).to_contain_text("Answered on this phone")
    expect(page.locator(".pages .count")).to_be_hidden()
    expect(phone.open("note/").page.locator('[data-part="high"]')).to_contain_text(f"Answered {NOT_SENT}")
    phone.mend()
    expect(phone.link).to_have_text("All sent")
    phone.open()
    expect(page.locator("main")).not_to_contain_text("this phone")
    expect(given.locator("dd")).to_have_count(2)
    expect(alarm).to_have_count(0)
    expect(page.locator("#signs-before")).to_be_hidden()
