"""The banner of another patient's order: whose it is stands first, as large as the order."""

from __future__ import annotations

from uuid import uuid4

from playwright.sync_api import expect

from consult import clock
from consult.actions import cases, notes, orders, questions
from consult.models import Order
from tests.browser.conftest import SignIn, Take, Transport
from tests.browser.crew_phone import PHONE, Phone

LINES = 3 * 18 + 8  # px: two lines beside a button, three where another patient is named
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
    assert box["height"] <= LINES

    field = phone.page.locator("[name=dbp]")
    for scrolled in (0, 40):
        phone.page.evaluate("far => scrollTo(0, far)", scrolled)
        before = field.bounding_box()
        transport.ask()
        newest = str(Order.objects.latest("id").uid)
        transport.decide(newest, transport.team.merrin, decision="decline", reason="fluid first")
        expect(banner.locator(".news-more")).to_contain_text(f"+{1 + scrolled // 40}")
        assert field.bounding_box() == before  # nothing moves under a finger

    banner.locator(".news-open").click()
    expect(banner).to_have_count(3)
    expect(banner.first.locator(".news-why")).to_be_visible()
    for left in (2, 1, 0):
        expect(banner.first).to_have_attribute("data-settled", "")
        banner.first.locator("[data-noted]").click()
        expect(banner).to_have_count(left)


def test_in_an_arrest_news_leave_its_keys_on_the_first_screen(take: Take, transport: Transport):
    now = clock.now()
    notes.change_phase(transport.team.osk, transport.uid, {"id": uuid4(), "at": now, "phase": "arrest"}, now)
    phone = take("")
    told = {"id": uuid4(), "at": now, "text": "Think of the potassium: " + "he missed dialysis. " * 9}
    questions.instruct(transport.team.merrin, transport.uid, told, now)
    banner = phone.page.locator(".news-item:visible")
    expect(banner).to_have_attribute("data-settled", "")
    dock = phone.page.locator(".dock").bounding_box()
    assert dock is not None
    for text in ("Compressions on", "VF", "PEA"):
        key = phone.page.locator(".press:visible").filter(has_text=text).first.bounding_box()
        assert key is not None
        assert key["y"] + key["height"] <= dock["y"]

    # What is cut off is read before it is understood.
    understood = banner.get_by_role("button", name="Understood")
    expect(understood).to_be_hidden()
    expect(banner.locator(".news-more")).to_have_text("Open")
    banner.locator(".news-open").click()
    expect(understood).to_be_visible()
