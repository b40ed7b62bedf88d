"""A drug that is not in the rules, by its name from the request to the dose; a danger seen on the board."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from consult.models import Intervention, Order
from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone


def phone_on(sign_in: SignIn, transport: Transport, path: str) -> Phone:
    page = sign_in("osk", f"/crew/{transport.uid}/{path}", **PHONE)
    return Phone(page, str(transport.uid)).ready()


def test_from_the_request_to_the_dose_by_its_name(transport: Transport, sign_in: SignIn):
    phone = phone_on(sign_in, transport, "orders/request/?treatment=other")
    phone.page.locator('[name="name"]').fill("cefazolin sodium")
    phone.type(**{"amount.value": 2})
    for choice in ("g", "IV", "Not in the rules"):
        phone.pick(choice)
    expect(phone.main).to_contain_text("Request 2 g cefazolin sodium IV")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    order = Order.objects.get()
    transport.decide(str(order.uid), transport.team.merrin, decision="approve")

    phone.open(f"orders/{order.uid}/readback/")
    phone.page.get_by_text("Not in the rules").click()
    phone.pick("Another drug")
    expect(phone.main).to_contain_text("The drug’s name, in full")
    phone.page.locator('[name="name"]').fill("Cefazolin sodium")
    for choice in ("IV", "Dose", "g"):
        phone.pick(choice)
    phone.type(**{"amount.value": 2})
    phone.main.click()
    expect(phone.outcome).to_contain_text("Read-back matches the order")

    phone.open(f"give/other/?order={order.uid}")
    expect(phone.page.locator('[name="name"]')).to_have_value("cefazolin sodium")
    phone.type(**{"amount.value": 2})
    for choice in ("g", "IV"):
        phone.pick(choice)
    expect(phone.main).to_contain_text("Record as given: 2 g cefazolin sodium IV")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    assert Intervention.objects.get().order == order


@pytest.mark.parametrize(
    ("path", "leads_to"),
    [
        ("orders/request/?treatment=other", "orders/request/?treatment=norepinephrine-infusion"),
        ("give/other/", "give/norepinephrine-infusion/"),
    ],
)
@pytest.mark.night
def test_a_drug_of_the_rules_by_another_name_leads_to_its_own_form_while_it_is_typed(
    transport: Transport, sign_in: SignIn, path: str, leads_to: str
):
    phone = phone_on(sign_in, transport, path)
    told = phone.page.locator("[data-listed]")
    phone.page.locator('[name="name"]').fill("cefazolin sodium")
    expect(told).to_be_hidden()
    phone.page.locator('[name="name"]').fill("fentanyl citrate")
    expect(told).to_contain_text("fentaNYL is in the rules: choose it there")
    phone.page.locator('[name="name"]').fill("Levophed 4 mg")

    expect(told).to_contain_text("“Levophed” is norepinephrine, which is in the rules: choose it there")
    told.get_by_role("link", name="norepinephrine infusion").click()
    phone.page.wait_for_url(f"**/crew/{transport.uid}/{leads_to}")


def test_it_cannot_be_asked_for_there_but_what_was_given_is_kept_and_counted(transport: Transport, sign_in: SignIn):
    phone = phone_on(sign_in, transport, "orders/request/?treatment=other")
    phone.page.locator('[name="name"]').fill("adrenaline")
    phone.type(**{"amount.value": 10})
    for choice in ("mcg", "IV", "Not in the rules"):
        phone.pick(choice)
    expect(phone.main).to_contain_text("In the rules: choose it above")
    expect(phone.main).to_have_attribute("aria-disabled", "true")

    phone.open("give/other/")
    phone.page.locator('[name="name"]').fill("adrenaline")
    phone.type(**{"amount.value": 10})
    expect(phone.main).to_contain_text("Unit of the dose?")
    for choice in ("mcg", "IV"):
        phone.pick(choice)
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    assert Intervention.objects.get().treatment == "epinephrine-push-dose"


def test_a_dose_in_words_goes_without_number_and_unit(transport: Transport, sign_in: SignIn):
    phone = phone_on(sign_in, transport, "give/other/")
    phone.page.locator('[name="name"]').fill("albuterol")
    phone.page.get_by_text("Dose in words").click()
    phone.page.locator('[name="amount_text"]').fill("2 puffs")
    phone.pick("mg")  # a unit alone is no dose
    phone.pick("PO")
    expect(phone.main).to_contain_text("Record as given: 2 puffs albuterol")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    assert Intervention.objects.get().data["amount_text"] == "2 puffs"


@pytest.mark.night
def test_a_physician_who_types_it_is_led_to_the_form_of_orders(transport: Transport, sign_in: SignIn):
    page = sign_in("merrin", f"/cases/{transport.uid}/")
    page.get_by_role("button", name="Order a drug outside the rules").click()
    form = page.locator("form[data-name='order-other']")
    form.locator("[name='name']").fill("cefazolin")
    expect(form.locator("[data-listed]")).to_be_hidden()
    form.locator("[name='name']").fill("Adrenaline")
    expect(form.locator("[type='submit']")).to_be_disabled()

    form.get_by_role("button", name="Order EPINEPHrine push dose").click()
    own = page.locator("form[data-name='order']")
    expect(own.locator("[name='treatment']")).to_have_value("epinephrine-push-dose")
    expect(own.locator("[name='amount.unit'] option", has_text="mcg").first).to_be_attached()
    expect(form).to_be_hidden()


def test_a_saturation_of_62_with_a_good_pressure_is_on_the_board_in_2_s(transport: Transport, sign_in: SignIn):
    page = sign_in("merrin", "/board/")
    expect(page.locator("#live-word")).to_have_text("Live")
    transport.vitals(sbp=120, dbp=70, hr=88, spo2=62, rr=14, glucose_mg_dl=30)

    card = page.locator(".card")
    expect(card).to_have_attribute("data-alarm", "high", timeout=2000)
    expect(card.locator(".vital[data-level='danger'] .vital-number")).to_have_text("62")
    expect(card.locator(".sign[data-level='danger'] .vital-number")).to_have_text("30")
