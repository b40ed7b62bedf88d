"""What is half typed survives another page and a reload, of this patient alone; late it comes back when asked for."""

from __future__ import annotations

import re
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import cases
from consult.models import Vitals
from tests.browser.conftest import Take, Transport
from tests.browser.crew_phone import Phone


def half_typed(take: Take, **how: object) -> Phone:
    phone = take("vitals/", **how)
    phone.type(sbp=84, dbp=44)
    return phone


def systolic(phone: Phone) -> str:
    return str(phone.page.locator('[name="sbp"]').input_value())


def line(phone: Phone) -> str:
    return str(phone.page.locator(".draft").inner_text())


def test_it_is_there_again_after_another_page_and_a_reload(take: Take):
    phone = half_typed(take)
    phone.open("orders/").open("vitals/")
    assert (systolic(phone), "not sent yet" in line(phone)) == ("84", True)
    phone.page.reload()
    phone.ready()

    expect(phone.main).to_contain_text("Send 84/44 mmHg")


@pytest.mark.night
def test_what_was_sent_is_not_filled_in_again(take: Take):
    phone = half_typed(take)
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    phone.open("vitals/")

    assert systolic(phone) == ""
    expect(phone.page.locator(".draft")).to_have_count(0)


@pytest.mark.night
def test_what_was_discarded_is_gone(take: Take):
    phone = half_typed(take)
    phone.open("vitals/")
    phone.page.get_by_role("button", name="Clear what is typed").click()
    assert systolic(phone) == ""
    phone.open("vitals/")

    assert systolic(phone) == ""


@pytest.mark.night
def test_another_patient_gets_nothing_of_it(take: Take, transport: Transport):
    phone = half_typed(take)
    now = clock.now()
    patient = {"age": {"value": 68, "unit": "years"}, "sex": "female", "label": "B", "weight": None}
    other = {"id": uuid4(), "opened_at": now, "patient": patient}
    cases.open_case(transport.team.osk, other, now)
    second = Phone(phone.page, str(other["id"])).open("vitals/")

    assert systolic(second) == ""
    assert systolic(phone.open("vitals/")) == "84"


def test_vitals_that_come_back_were_taken_when_they_were_typed(take: Take):
    phone = half_typed(take, clock=True)
    phone.page.clock.fast_forward("03:00")
    phone.page.reload()
    phone.ready()

    expect(phone.page.locator("#to-send")).to_have_text(re.compile("84/44 mmHg, taken 3 min ago"))


@pytest.mark.night
def test_after_a_while_it_is_asked_first(take: Take):
    phone = half_typed(take, clock=True)
    phone.page.clock.fast_forward("12:00")
    phone.page.reload()
    phone.ready()
    assert systolic(phone) == ""
    phone.page.get_by_role("button", name="Restore it").click()

    expect(phone.page.locator("#to-send")).to_have_text(re.compile("84/44 mmHg, taken 12 min ago"))
    assert Vitals.objects.count() == 0


def test_after_an_hour_it_is_no_more(take: Take):
    phone = half_typed(take, clock=True)
    phone.page.clock.fast_forward("01:01:00")
    phone.page.reload()
    phone.ready()

    expect(phone.page.locator(".draft")).to_have_count(0)


def test_a_new_case_is_never_filled_in_unasked(take: Take):
    """Who opens a case after another may have another patient in front of them."""
    phone = take()
    phone.page.goto(f"{phone.page.url.split('/crew/')[0]}/crew/open/")
    phone.ready().type(**{"patient.weight.value": 62})
    phone.page.reload()
    phone.ready()

    assert phone.page.locator('[name="patient.weight.value"]').input_value() == ""
    expect(phone.page.get_by_role("button", name="Restore it")).to_be_visible()


def test_nobody_else_who_signs_in_on_this_phone_finds_it(take: Take):
    phone = half_typed(take)
    phone.page.evaluate("""() => {
      for (const key of Object.keys(localStorage).filter((each) => each.startsWith("draft-"))) {
        localStorage.setItem("draft-somebody-else-/crew/", localStorage.getItem(key));
      }
    }""")
    phone.page.reload()
    phone.ready()

    assert phone.page.evaluate("Object.keys(localStorage).filter((key) => key.includes('somebody-else'))") == []
