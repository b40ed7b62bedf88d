"""Two people at one order: co-signed on another desk, ordered by voice on the phone, control taken from a colleague."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import cases, orders
from consult.models import Intervention, Order
from tests.browser.conftest import SignIn, Take, Transport
from tests.browser.test_board import live_board

BEYOND = {"treatment": "epinephrine-push-dose", "amount": {"value": 150, "unit": "mcg"}, "route": "IV"}


@pytest.fixture
def beyond(transport: Transport) -> UUID:
    """An order by Dr. Merrin beyond the hard limit of 100 mcg."""
    transport.vitals(sbp=74, dbp=44, lungs="clear")
    now = clock.now()
    why = {"reason": "as discussed", "hard_limit_reason": "arterial line in"}
    entry = {"id": uuid4(), "at": now, **BEYOND, **why}
    return UUID(orders.request_order(transport.team.merrin, transport.uid, entry, now).resource.id)


def test_another_physician_co_signs_and_who_decided_cannot(transport: Transport, beyond: UUID, sign_in: SignIn):
    own = live_board(sign_in)
    expect(own.locator(".ask-head")).to_contain_text("second physician needed")
    expect(own.get_by_role("button", name="Co-sign for")).to_be_hidden()
    expect(own.locator(".ask")).to_contain_text("You decided this")

    page = live_board(sign_in, "quillan")
    page.get_by_role("button", name="Co-sign for Kestrel 2 A").first.click()
    page.locator("form[data-name='cosign'] textarea").fill("agreed by telephone")
    page.locator("form[data-name='cosign'] [type='submit']").click()
    expect(own.locator(".ask-head")).to_contain_text("not read back yet")
    expect(own.locator(".ask")).to_contain_text("Co-signed by Dr. Quillan")
    assert Order.objects.get(uid=beyond).data["waiting_for"] is None


def test_who_had_control_is_told_that_a_colleague_has_it(transport: Transport, sign_in: SignIn):
    cases.accept(transport.team.merrin, transport.uid, {"id": uuid4()}, clock.now())
    page = live_board(sign_in)
    cases.accept(transport.team.quillan, transport.uid, {"id": uuid4(), "take_over": True}, clock.now())

    expect(page.locator("#taken")).to_contain_text("Dr. Quillan took control of Kestrel 2 A from you at ")
    page.get_by_role("button", name="Noted").click()
    expect(page.locator("#taken")).to_be_hidden()


def test_who_had_control_is_told_that_the_case_was_handed_over_until_it_is_noted(transport: Transport, sign_in: SignIn):
    cases.accept(transport.team.merrin, transport.uid, {"id": uuid4()}, clock.now())
    page, other = live_board(sign_in), live_board(sign_in, "quillan")
    handed = {"id": uuid4(), "at": clock.now(), "to": "Marrowby General"}
    cases.handover(transport.team.osk, transport.uid, handed, clock.now())

    expect(page.locator(".card")).to_have_count(0)
    expect(page.locator("#taken")).to_contain_text("Kestrel 2 A handed over at ")
    page.reload()
    expect(page.locator("#taken a")).to_have_attribute("href", f"/cases/{transport.uid}/")
    page.get_by_role("button", name="Noted").click()
    page.reload()
    expect(page.locator("#strip")).to_have_attribute("data-live", "live")
    expect(page.locator("#taken")).to_be_hidden()
    expect(other.locator(".card")).to_have_count(0)
    expect(other.locator("#taken")).to_be_hidden()


@pytest.mark.parametrize("where", ["/cases/{other}/", "/shift/", "/rules/"])
def test_on_whatever_page_they_are_and_on_the_next_until_it_is_noted(where: str, transport: Transport, sign_in: SignIn):
    other = {"id": uuid4(), "opened_at": clock.now(), "patient": {"age": None, "weight": None}}
    cases.open_case(transport.team.osk, other, clock.now())
    cases.accept(transport.team.merrin, transport.uid, {"id": uuid4()}, clock.now())
    page = live_board(sign_in)
    board = page.url
    page.goto(board.replace("/board/", where.format(other=other["id"])))
    expect(page.locator("#strip")).to_have_attribute("data-live", "live")
    cases.accept(transport.team.quillan, transport.uid, {"id": uuid4(), "take_over": True}, clock.now())

    told = "Dr. Quillan took control of Kestrel 2 A from you at "
    expect(page.locator("#taken")).to_contain_text(told)
    page.goto(board)
    expect(page.locator("#taken")).to_contain_text(told)
    page.get_by_role("button", name="Noted").click()
    page.reload()
    expect(page.locator("#strip")).to_have_attribute("data-live", "live")
    expect(page.locator("#taken")).to_be_hidden()


@pytest.mark.night
def test_who_comes_back_later_is_told_too_and_not_once_the_case_is_theirs_again(transport: Transport, sign_in: SignIn):
    cases.accept(transport.team.merrin, transport.uid, {"id": uuid4()}, clock.now())
    page = live_board(sign_in)
    page.goto("about:blank")
    cases.accept(transport.team.quillan, transport.uid, {"id": uuid4(), "take_over": True}, clock.now())
    page.go_back()

    expect(page.locator("#taken a")).to_have_text("Dr. Quillan took control of Kestrel 2 A from you")
    cases.accept(transport.team.merrin, transport.uid, {"id": uuid4(), "take_over": True}, clock.now())
    expect(page.locator("#taken")).to_be_hidden()


def test_a_dose_is_recorded_as_ordered_by_voice(transport: Transport, take: Take):
    phone = take("give/epinephrine-push-dose/")
    phone.page.locator("#already summary").click()
    phone.page.get_by_label("Ordered by voice, by").select_option(label="Dr. Merrin")
    phone.pick("IV")
    phone.dose("20 mcg")
    phone.main.click()

    expect(phone.outcome).to_contain_text("Sent")
    given = Intervention.objects.get()
    assert given.data["voice_order"] == {"physician": "merrin", "at": given.data["given_at"]}


@pytest.mark.night
def test_what_deciding_brings_is_said_no_more_once_a_colleague_has_control(transport: Transport, sign_in: SignIn):
    """Also beside a form that is being typed into, which stays as it is."""
    transport.ask(30)
    page = live_board(sign_in)
    page.get_by_role("button", name="Decline").click()
    form = page.locator("form[data-name='decline']")
    form.locator("textarea").fill("not now")
    expect(form.locator(".takes-control")).to_be_visible()

    cases.accept(transport.team.quillan, transport.uid, {"id": uuid4()}, clock.now())

    expect(page.locator(".who-by")).to_have_text("Dr. Quillan")
    expect(form.locator(".takes-control")).to_be_hidden()
    expect(form.locator("textarea")).to_have_value("not now")
