"""On the phone, what became known since an order stands in the first screen and holds the button that gives it."""

from __future__ import annotations

from uuid import UUID, uuid4

from playwright.sync_api import expect

from consult import clock
from consult.actions import cases, orders, read_back, vitals
from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone

NEW = "New since it was ordered: ask before you give it"


def read(transport: Transport, treatment: str, value: float, unit: str, **more: object) -> UUID:
    """An order of Dr. Merrin's, read back."""
    amount, order = {"value": value, "unit": unit}, uuid4()
    what = {"treatment": treatment, "amount": amount, "route": "IV"}
    orders.request_order(
        transport.team.merrin, transport.uid, {"id": order, "reason": "pain", **what, **more}, clock.now()
    )
    read_back.read_back(transport.team.osk, order, {"id": uuid4(), **what}, clock.now())
    return order


def measures(transport: Transport, **values: float) -> None:
    data = {"id": uuid4(), "taken_at": clock.now(), "sbp": 124, "dbp": 76, **values}
    vitals.record_vitals(transport.team.osk, transport.uid, data, clock.now())


def test_breathing_that_slows_after_the_order_holds_the_dose(sign_in: SignIn, transport: Transport):
    measures(transport, rr=16, gcs=15, spo2=97)
    order = read(transport, "fentanyl", 40, "mcg")
    page = sign_in("osk", f"/crew/{transport.uid}/give/fentanyl/?order={order}", **PHONE)
    phone = Phone(page, str(transport.uid)).ready()
    button = page.locator("#main-button")
    expect(button).not_to_contain_text(NEW)
    measures(transport, rr=6, gcs=6, spo2=80)

    expect(button).to_contain_text(NEW)
    page.reload()
    phone.ready()
    danger = page.locator("#main .finding", has_text="breathing is far too slow").first
    expect(danger).to_be_in_viewport()
    expect(danger).to_contain_text("known only after Dr. Merrin ordered this")
    expect(button).to_contain_text(NEW)


def test_an_allergy_sets_it_back(sign_in: SignIn, transport: Transport):
    measures(transport, rr=16)
    order = read(transport, "ceftriaxone", 2, "g", over_min=30)
    page = sign_in("osk", f"/crew/{transport.uid}/orders/{order}/", **PHONE)
    Phone(page, str(transport.uid)).ready()
    cases.patch_case(
        transport.team.osk, transport.uid, {"patient": {"allergies": ["penicillin anaphylaxis"]}}, clock.now()
    )

    expect(page.locator("h1")).to_contain_text("SET BACK TO THE PHYSICIAN: do not give")
    expect(page.locator("#main-button")).to_contain_text("All orders")
    desk = sign_in("merrin", f"/cases/{transport.uid}/")
    expect(desk.locator(".ask").first).to_contain_text("Decide again")
