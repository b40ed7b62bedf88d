"""When something happened: minutes that cannot be are refused, a time before the case was opened is asked about."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.models import Intervention, Vitals
from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone

Take = Callable[[str], Phone]
PASTE = "(field, text) => { field.value = text; field.dispatchEvent(new Event('input', { bubbles: true })); }"
FORMS = {
    "vitals/": "Taken earlier, or by an arterial line",
    "give/epinephrine-push-dose/": "Already given: record it",
    "note/": "",
    "handover/": "",
}


@pytest.fixture
def take(sign_in: SignIn, transport: Transport) -> Take:
    """Take the phone in hand on a form of the open case, all of it filled but when."""

    def taken(path: str) -> Phone:
        phone = Phone(sign_in("osk", f"/crew/{transport.uid}/{path}", **PHONE), str(transport.uid)).ready()
        if FORMS[path]:
            phone.page.locator("summary").filter(has_text=FORMS[path]).click()
        if path == "vitals/":
            phone.type(hr=99)
        elif path.startswith("give/"):
            phone.pick("IV")
            phone.dose("10 mcg")
        else:
            phone.page.locator('[name="text"], [name="to"]').first.fill("Harrow Fen General")
        return phone

    return taken


@pytest.mark.parametrize("path", FORMS)
@pytest.mark.parametrize("minutes", ["100000", "-5", "1.5"])
def test_minutes_that_cannot_be_hold_the_button_and_say_why_beside_the_field(take: Take, path: str, minutes: str):
    phone = take(path)

    phone.page.locator('[name="ago_min"]').evaluate(PASTE, minutes)

    expect(phone.page.locator("[data-when-said]")).to_have_text("Minutes ago: a whole number from 0 to 9999")
    expect(phone.main).to_have_attribute("aria-disabled", "true")
    phone.main.click(force=True)
    expect(phone.outcome).to_be_hidden()
    assert not Vitals.objects.exists()
    assert not Intervention.objects.exists()


@pytest.mark.night
def test_a_time_before_the_opening_is_asked_about_and_told_with_its_day(take: Take):
    phone = take("vitals/")

    phone.type(ago_min=3000)

    question = phone.page.locator("[data-when-said]")
    expect(question).to_have_text(re.compile(r"That is before this case was opened at \d\d:\d\d\. Sure\?"))
    day = clock.now() - timedelta(minutes=3000)
    expect(phone.page.locator("#to-send")).to_contain_text(f"taken 3000 min ago, at {day.day} {day:%b} ")
    phone.main.dblclick()  # too quick to be an answer
    expect(question).to_be_in_viewport()
    expect(phone.main).to_contain_text("Sure?")
    assert not Vitals.objects.exists()
    expect(phone.main).to_have_attribute("aria-disabled", "false")
    phone.main.click()

    expect(phone.outcome).to_contain_text("Sent")
    assert timedelta(minutes=2999) < clock.now() - Vitals.objects.get().taken_at < timedelta(minutes=3001)


@pytest.mark.night
def test_other_minutes_are_asked_about_anew_and_a_time_since_the_opening_never(take: Take):
    phone = take("vitals/")
    phone.type(ago_min=30)
    phone.main.click()
    expect(phone.main).to_contain_text("Sure?")

    phone.type(ago_min=300)
    expect(phone.main).not_to_contain_text("Sure?")
    phone.type(ago_min=0)
    expect(phone.page.locator("[data-when-said]")).to_be_hidden()
    phone.main.click()

    expect(phone.outcome).to_contain_text("Sent")


def test_a_dose_of_another_time_says_it_on_button_and_receipt_and_now_is_not_picked(take: Take):
    phone = take("give/epinephrine-push-dose/")
    expect(phone.page.locator('[name="ago"]:checked')).to_have_value("0")

    phone.type(ago_min=10)

    expect(phone.page.locator('[name="ago"]:checked')).to_have_count(0)
    expect(phone.main).to_contain_text(re.compile(r"^Record as given 10 min ago, at \d\d:\d\d: 10 mcg"))
    phone.sure()
    expect(phone.outcome).to_contain_text(re.compile(r"Given: .* 10 mcg.*, 10 min ago, at \d\d:\d\d"))


@pytest.mark.night
def test_minutes_erased_are_now_again_and_a_pick_takes_their_place(take: Take):
    phone = take("note/")
    picked = phone.page.locator('[name="ago"]:checked')
    phone.type(ago_min=10)
    phone.page.locator('[name="ago_min"]').fill("")
    expect(picked).to_have_value("0")

    phone.type(ago_min=10)
    phone.pick("2 min ago")

    expect(phone.page.locator('[name="ago_min"]')).to_have_value("")
    expect(phone.main).to_contain_text("2 min ago, at")


@pytest.mark.night
def test_the_keys_of_the_page_type_minutes_too(take: Take):
    phone = take("vitals/")
    field = phone.page.locator('[name="ago_min"]')
    field.focus()

    for key in "12":
        phone.page.locator(f'[data-key="{key}"]').click()

    expect(field).to_have_value("12")
