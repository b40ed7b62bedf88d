"""A meter shows mg/dL or mmol/L: the crew's field says which it is, and takes no number of the other."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from consult.models import Vitals
from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone


@pytest.fixture
def phone(sign_in: SignIn, transport: Transport) -> Phone:
    """The page for vitals with the further measurements unfolded."""
    page = sign_in("osk", f"/crew/{transport.uid}/vitals/", **PHONE)
    page.wait_for_url("**/crew/**")
    phone = Phone(page, str(transport.uid)).ready()
    page.locator("summary").filter(has_text="More: alertness").click()
    return phone


def switch(phone: Phone, unit: str) -> None:
    phone.page.get_by_role("button", name=f"Glucose in {unit}", exact=True).click()


def field(phone: Phone) -> Any:
    return phone.page.locator("[name^=glucose_m]")


def test_it_starts_in_mg_dl_and_a_number_of_the_other_unit_is_asked_back(phone: Phone) -> None:
    """3.1 is out of the 5 to 2000 mg/dL, and could be mmol/L."""
    expect(field(phone)).to_have_accessible_name("Glucose mg/dL")
    phone.type(glucose_mg_dl=3.1)

    expect(phone.main).to_have_attribute("aria-disabled", "true")
    expect(phone.main).to_contain_text("mmol/L?")


@pytest.mark.night
def test_what_no_unit_holds_names_the_range_alone(phone: Phone) -> None:
    phone.type(glucose_mg_dl=2500)

    expect(phone.main).to_contain_text("5 to 2000")
    expect(phone.main).not_to_contain_text("mmol/L?")


def test_in_mmol_the_number_stays_and_is_sent_in_that_unit(phone: Phone) -> None:
    phone.type(glucose_mg_dl=3.1)
    switch(phone, "mmol/L")

    expect(field(phone)).to_have_accessible_name("Glucose mmol/L")
    expect(phone.main).to_contain_text("Send glucose 3.1 mmol/L")
    expect(phone.page.locator("#to-send")).to_have_text("glucose 3.1 mmol/L")
    phone.main.click()
    expect(phone.outcome).to_have_attribute("data-state", "sent")
    data = Vitals.objects.order_by("seq").last().data
    assert (data["glucose_mmol_l"], "glucose_mg_dl" in data) == (3.1, False)


@pytest.mark.night
def test_mg_dl_typed_in_mmol_is_asked_back_too(phone: Phone) -> None:
    switch(phone, "mmol/L")
    phone.type(glucose_mmol_l=140)

    expect(phone.main).to_contain_text("mg/dL?")
    switch(phone, "mg/dL")
    expect(phone.main).to_contain_text("Send glucose 140 mg/dL")


@pytest.mark.night
def test_the_next_set_begins_in_the_unit_of_the_page(phone: Phone) -> None:
    switch(phone, "mmol/L")
    phone.type(glucose_mmol_l=4)
    phone.main.click()
    phone.page.get_by_role("button", name="Another reading").click()

    expect(field(phone)).to_have_accessible_name("Glucose mg/dL")
    expect(field(phone)).to_have_value("")
