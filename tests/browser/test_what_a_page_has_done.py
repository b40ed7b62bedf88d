"""What a crew's page has just done by an order is told as done there, not as a refusal; a query is answered at once."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import read_back
from consult.models import Order
from tests.browser.conftest import Take, Transport
from tests.browser.crew_phone import Phone

PUSH: dict[str, Any] = {
    "treatment": "epinephrine-push-dose",
    "route": "IV",
    "amount": {"value": 30, "unit": "mcg"},
}


@pytest.fixture
def order(transport: Transport) -> str:
    """30 mcg, asked for and approved."""
    transport.vitals(sbp=74, dbp=44)
    asked = transport.ask(30)
    transport.decide(asked, transport.team.merrin, decision="approve", reason="agreed")
    return asked


def say(transport: Transport, order: str) -> None:
    read_back.read_back(transport.team.osk, UUID(order), {"id": uuid4(), **PUSH}, clock.now())


def fill_read_back(phone: Phone) -> None:
    phone.page.locator("#drugs summary").filter(has_text="Push doses").click()
    phone.pick("EPINEPHrine push dose")
    phone.pick("IV")
    phone.pick("Dose")
    phone.type(**{"amount.value": 30})
    phone.pick("mcg")


def test_a_matching_read_back_is_no_refusal(take: Take, order: str):
    phone = take(f"orders/{order}/readback/")
    fill_read_back(phone)
    phone.page.locator('[name="words_too"]').check()
    phone.main.click()

    expect(phone.outcome).to_contain_text("Read-back matches the order")
    expect(phone.page.locator("[data-gate]")).to_have_attribute("data-held", "ALREADY READ BACK")
    expect(phone.page.locator("[data-gate]")).to_be_hidden()
    expect(phone.page.get_by_text("Nothing is filled in")).to_be_hidden()


def test_what_another_has_read_back_is_said(take: Take, order: str, transport: Transport):
    phone = take(f"orders/{order}/readback/")
    say(transport, order)

    expect(phone.page.locator("[data-hold]")).to_have_text("ALREADY READ BACK")
    expect(phone.page.locator("[data-gate]")).to_be_visible()


def test_what_was_given_by_the_order_is_no_refusal_and_not_offered_again(take: Take, order: str, transport: Transport):
    say(transport, order)
    phone = take(f"give/epinephrine-push-dose/?order={order}")
    phone.page.locator("#already summary").click()
    phone.main.click()

    expect(phone.outcome).to_contain_text("Given: EPINEPHrine push dose 30 mcg")
    expect(phone.page.locator("[data-gate]")).to_have_attribute("data-held", "ALREADY GIVEN: do not give again")
    expect(phone.page.locator("[data-gate]")).to_be_hidden()
    expect(phone.page.get_by_role("button", name="Another dose")).to_be_hidden()


@pytest.mark.night
def test_what_another_gave_before_by_the_order_is_said(take: Take, order: str, transport: Transport):
    say(transport, order)
    phone = take(f"give/epinephrine-push-dose/?order={order}")
    transport.give(30, order=UUID(order))

    expect(phone.page.locator("[data-hold]")).to_have_text("ALREADY GIVEN: do not give again")
    expect(phone.page.locator("[data-gate]")).to_be_visible()


@pytest.mark.night
def test_an_answer_names_the_question(take: Take, transport: Transport):
    asked = transport.ask(30)
    transport.decide(asked, transport.team.merrin, decision="ask", text="what is the heart rate?")
    phone = take(f"orders/{asked}/")
    phone.main.click()
    phone.page.wait_for_url("**/answer/")
    phone.ready().page.locator("textarea").fill("128")
    phone.main.click()

    expect(phone.outcome).to_contain_text("Sent")
    assert Order.objects.get().data["answer"] == "128"
