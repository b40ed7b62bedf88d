"""The banner of another patient's order: whose it is stands first, as large as the order."""

from __future__ import annotations

from uuid import uuid4

from playwright.sync_api import expect

from consult import clock
from consult.actions import cases, orders
from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone

SIZE = "each => parseFloat(getComputedStyle(each).fontSize) * parseFloat(getComputedStyle(each).fontWeight)"


def test_whose_order_it_is_stands_first_and_as_large_and_the_page_stays_in_sight(transport: Transport, sign_in: SignIn):
    now = clock.now()
    patient = {"age": {"value": 68, "unit": "years"}, "sex": "female", "label": "C", "weight": None}
    other = {"id": uuid4(), "opened_at": now, "patient": patient}
    cases.open_case(transport.team.osk, other, now)
    drug = {"treatment": "epinephrine-push-dose", "amount": {"value": 20, "unit": "mcg"}, "route": "IV"}
    orders.request_order(
        transport.team.merrin,
        transport.uid,
        {"id": uuid4(), "at": now, "reason": "MAP stays under 60 after 1 L", **drug},
        now,
    )

    phone = Phone(sign_in("osk", f"/crew/{other['id']}/vitals/", **PHONE), str(other["id"])).ready()

    banner = phone.page.locator(".news-item:visible")
    expect(banner.locator(".news-what")).to_have_text(
        "58 y male A, 80 kg measured: ORDERED EPINEPHrine push dose 20 mcg IV"
    )
    assert banner.locator(".news-who").evaluate(SIZE) >= banner.locator(".news-order").evaluate(SIZE)
    box = banner.bounding_box()
    assert box is not None
    assert box["height"] <= 844 / 4
