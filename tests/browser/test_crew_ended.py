"""The page of a case that has ended: nothing is given now, and what happened before goes in late, with its time."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import cases
from consult.models import Case, Intervention, Vitals
from tests.browser.conftest import Take, Transport


@pytest.fixture
def pressure_before() -> dict[str, float]:
    return {"sbp": 74, "dbp": 44}


def hand_over(transport: Transport) -> None:
    now = clock.now()
    data = {"id": uuid4(), "at": now - timedelta(seconds=5), "to": "Harrow Fen General"}
    cases.handover(transport.team.osk, transport.uid, data, now)


def test_a_dose_is_not_given_now_and_one_given_before_is_recorded(take: Take, transport: Transport):
    phone = take("give/epinephrine-push-dose/")
    phone.pick("IV")
    phone.dose("10 mcg")
    expect(phone.main).to_contain_text("10 mcg")

    hand_over(transport)

    expect(phone.page.locator(".ended")).to_contain_text("This case was handed over at")
    expect(phone.main).to_contain_text("This case was handed over at")
    expect(phone.main).to_have_attribute("aria-disabled", "true")
    phone.page.get_by_text("Already given: record it").click()
    phone.type(ago_min=10)
    expect(phone.main).to_contain_text("Record as given 10 min ago")
    phone.sure()  # it is before this case was opened
    expect(phone.outcome).to_contain_text("Sent")
    assert Intervention.objects.get().given_at < clock.now() - timedelta(minutes=9)


def test_a_reading_after_the_end_is_asked_about_and_not_refused(take: Take, transport: Transport):
    hand_over(transport)
    phone = take("vitals/")

    phone.type(hr=99)
    phone.sure()

    expect(phone.outcome).to_contain_text("Sent")
    assert Vitals.objects.filter(data__hr=99).count() == 1


def test_closing_a_case_asks_first_as_only_a_physician_opens_it_again(take: Take, transport: Transport):
    phone = take("handover/")
    phone.page.locator("summary").filter(has_text="No handover: close the case").click()
    phone.pick("Cancelled")
    close = phone.page.locator("form[data-kind='close'] button")
    close.click()
    expect(close).to_contain_text("Press again: the case is closed")
    assert Case.objects.get(uid=transport.uid).state == "open"
    expect(close).to_have_attribute("aria-disabled", "false")
    close.click()

    expect(phone.outcome).to_contain_text("Sent")
    assert Case.objects.get(uid=transport.uid).state == "closed"
