"""The change of shift and a move as people do them: two physicians, both told live; a crew whose patient goes."""

from __future__ import annotations

from uuid import uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import accounts, cases, handovers
from consult.models import Agency
from tests.browser.conftest import SignIn, Transport


def taken(transport: Transport) -> None:
    """Merrin has control."""
    cases.accept(transport.team.merrin, transport.uid, {"id": uuid4()}, clock.now())


def test_offered_told_live_accepted_told_live(sign_in: SignIn, transport: Transport):
    taken(transport)
    goes, comes = sign_in("merrin", "/shift/"), sign_in("quillan", "/board/")
    expect(goes.locator("#mine article")).to_have_count(1)
    goes.select_option("#offer select[name=to]", label="Dr. Quillan")
    other = {"id": uuid4(), "opened_at": clock.now(), "patient": {"age": None, "weight": None}}
    cases.open_case(transport.team.osk, other, clock.now())
    cases.accept(transport.team.merrin, other["id"], {"id": uuid4()}, clock.now())
    expect(goes.locator("#mine article")).to_have_count(2)
    expect(goes.locator("#mine textarea:visible")).to_have_count(0)
    goes.click("#choose-all")
    expect(goes.locator("#offer-them")).to_have_text("Offer 2 cases to Dr. Quillan")
    goes.fill(f'#offer [name="note-{transport.uid}"]', "pump at 8 mL/h")
    goes.click("#offer button[type=submit]")

    expect(goes.locator("#mine .shift-offered")).to_have_count(2)
    expect(goes.locator("#mine .shift-offered").first).to_contain_text("Offered to Dr. Quillan")
    expect(goes.locator("#mine input:checked")).to_have_count(0)
    notice = comes.locator("#offers-text")
    expect(notice).to_contain_text("Kestrel 2 A")
    expect(comes.locator(".who-offered").first).to_have_text("offered to Dr. Quillan")
    notice.click()
    noted = comes.locator("#offered-to-me article", has_text="pump at 8 mL/h")
    expect(noted).to_have_count(1)
    expect(noted).to_contain_text("Kestrel 2 A")
    while comes.locator("#offered-to-me article").count():
        waiting = comes.locator("#offered-to-me article").count()
        comes.locator("#offered-to-me .btn-main").first.click()
        expect(comes.locator("#offered-to-me article")).to_have_count(waiting - 1)

    expect(comes.locator("#mine article")).to_have_count(2)
    expect(comes.locator("#offers-news")).to_be_hidden()
    expect(goes.locator("#mine")).to_contain_text("You have control of no case")
    expect(goes.locator("#taken")).to_contain_text("Dr. Quillan accepted control of Kestrel 2 A, as you offered")


@pytest.mark.night
def test_an_offer_is_told_on_the_page_of_another_case_too(sign_in: SignIn, transport: Transport):
    taken(transport)
    other = {"id": uuid4(), "opened_at": clock.now(), "patient": {"age": None, "weight": None}}
    cases.open_case(transport.team.osk, other, clock.now())
    page = sign_in("quillan", f"/cases/{other['id']}/")
    expect(page.locator("#strip")).to_have_attribute("data-live", "live")
    offer = {"id": uuid4(), "to": "quillan", "cases": [transport.uid]}
    handovers.offer(transport.team.merrin, offer, clock.now())

    expect(page.locator("#offers-text")).to_contain_text("Dr. Merrin offers you control: Kestrel 2 A")


@pytest.mark.night
def test_what_one_ticked_stays_while_a_case_moves_and_what_was_offered_may_be_kept(
    sign_in: SignIn, transport: Transport
):
    taken(transport)
    page = sign_in("merrin", "/shift/")
    box = page.locator("#mine input[type=checkbox]")
    expect(box).not_to_be_checked()
    box.check()
    page.fill("#mine textarea", "half typed")
    transport.vitals(sbp=96, dbp=60)
    expect(page.locator("#mine")).to_contain_text("MAP 72")
    expect(box).to_be_checked()
    expect(page.locator("#mine textarea")).to_have_value("half typed")

    page.select_option("#offer select[name=to]", label="Dr. Quillan")
    page.click("#offer button[type=submit]")
    page.click("text=Keep Kestrel 2 A")
    expect(page.locator(".shift-offered")).to_have_count(0)


def test_control_is_given_up_by_who_has_it_alone(sign_in: SignIn, transport: Transport):
    taken(transport)
    other = sign_in("quillan", f"/cases/{transport.uid}/")
    expect(other.locator("[data-form=take-over]")).to_be_visible()
    expect(other.locator("[data-form=release]")).to_be_hidden()
    page = sign_in("merrin", f"/cases/{transport.uid}/")
    page.click("[data-form=release]")
    page.click("form[data-name=release] button[type=submit]")

    expect(page.locator(".patient-accept .btn-main")).to_contain_text("Take control")
    expect(other.locator(".patient-accept .btn-main")).to_contain_text("Take control")


def test_a_crew_moves_its_patient_and_its_page_says_where(sign_in: SignIn, transport: Transport):
    accounts.make_unit(Agency.objects.get(pk=transport.team.osk.agency), "Plover 8")
    phone = {"size": (390, 844)}
    beside = sign_in("osk", f"/crew/{transport.uid}/", **phone)
    page = sign_in("osk", f"/crew/{transport.uid}/move/", **phone)
    page.locator("html[data-ready]").wait_for()
    page.click("text=Plover 8")
    page.click("#main-button")
    page.click("#main-button[aria-disabled=false]:has-text('Press again')")

    expect(page.locator(".outcome")).to_contain_text("Moved to Plover 8")
    expect(page.locator("[data-again]")).to_have_count(0)
    expect(beside.locator("h1")).to_have_text("Moved to Plover 8")
