"""Consults without a drug on two screens: asked by thumb, decided at the desk, understood without a link."""

from __future__ import annotations

import json
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import cases, questions
from consult.models import Instruction, Question
from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone


def card(transport: Transport) -> dict:
    from consult.models import Case

    found: dict = json.loads(Case.objects.get(uid=transport.uid).card)
    return found


def phone_of(transport: Transport, sign_in: SignIn, path: str = "") -> Phone:
    return Phone(sign_in("osk", f"/crew/{transport.uid}/{path}", **PHONE), str(transport.uid)).ready()


def test_a_refusal_is_asked_by_its_form_and_agreed_by_name(transport: Transport, sign_in: SignIn):
    desk = sign_in("merrin", f"/cases/{transport.uid}/")
    phone = phone_of(transport, sign_in, "ask/")
    expect(phone.main).to_contain_text("What is it about?")
    for choice, wants in (
        ("Refusal of care", "Who refuses?"),
        ("Patient", "Capacity to decide?"),
        ("Yes", "Were the risks explained?"),
        ("Told", "Put it in words"),
    ):
        phone.pick(choice)
        expect(phone.main).to_contain_text(wants)
    phone.page.fill('[name="form.witness"]', "A. Marl, daughter")
    phone.page.fill('[name="text"]', "Wants to stay at home.")
    expect(phone.main).to_contain_text("Ask: refusal of care")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent ")

    panel = desk.locator("[data-part^='question-']")
    expect(panel).to_contain_text("A. Marl, daughter")
    panel.get_by_role("button", name="Agree: the refusal stands", exact=True).click()
    panel.locator("form[data-name='agree'] textarea").fill("May stay, her son is to call.")
    panel.locator("form[data-name='agree'] button[type=submit]").click()
    expect(panel).to_have_count(0)
    expect(desk.locator("[data-part^='instruction-']")).to_contain_text("not confirmed yet")
    told = Instruction.objects.get()
    assert (told.data["decision"], told.data["by"]) == ("agreed", "Dr. Merrin")
    assert Question.objects.get().data["form"]["witness"] == "A. Marl, daughter"


def test_the_end_of_a_resuscitation_is_asked_with_no_criterion_met(transport: Transport, sign_in: SignIn):
    """None that is ticked is an answer, too: the API needs the list."""
    phone = phone_of(transport, sign_in, "ask/")
    phone.pick("End of resuscitation")
    phone.page.fill('[name="form.minutes"]', "32")
    phone.pick("asystole")
    phone.page.fill('[name="text"]', "Go on?")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    form = Question.objects.get().data["form"]
    assert form == {"minutes": 32, "rhythm": "asystole", "criteria": []}


def test_an_instruction_is_understood_and_done_without_a_link(transport: Transport, sign_in: SignIn):
    phone = phone_of(transport, sign_in, "vitals/")
    now = clock.now()
    told = uuid4()
    questions.instruct(transport.team.merrin, transport.uid, {"id": told, "at": now, "text": "Sit him up."}, now)
    banner = phone.page.locator(".news-item:visible")
    expect(banner).to_contain_text("INSTRUCTION: Sit him up.")  # by the socket, while another page is open
    phone.cut()
    expect(banner).to_have_attribute("data-settled", "")
    banner.get_by_role("button", name="Understood").click()
    expect(banner).to_have_count(0)
    expect(phone.link).to_contain_text("1 waiting")
    assert Instruction.objects.get().state == "given"
    phone.mend()
    expect(phone.link).to_contain_text("All sent")
    assert Instruction.objects.get().state == "understood"

    phone.open(f"instructions/{told}/")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Instruction done")
    expect(phone.outcome).to_contain_text("Sent ")
    assert Instruction.objects.get().state == "done"
    assert card(transport)["instructions"] == []


def test_a_press_of_ones_own_is_not_told_as_a_change(transport: Transport, sign_in: SignIn):
    told, now = uuid4(), clock.now()
    questions.instruct(transport.team.merrin, transport.uid, {"id": told, "at": now, "text": "Sit him up."}, now)
    phone = phone_of(transport, sign_in, f"instructions/{told}/")
    with phone.page.expect_response(lambda answer: "x-parts" in answer.request.headers):
        phone.main.click()
    expect(phone.outcome).to_contain_text("Instruction understood")
    phone.page.evaluate("import('/static/crew/live.js').then(({ renew }) => renew())")

    expect(phone.page.locator("main")).to_contain_text("Sit him up.")
    expect(phone.page.locator("main")).not_to_contain_text("This has changed")


def test_what_was_understood_without_a_link_is_not_asked_again(transport: Transport, sign_in: SignIn):
    told, now = uuid4(), clock.now()
    questions.instruct(transport.team.merrin, transport.uid, {"id": told, "at": now, "text": "Sit him up."}, now)
    phone = phone_of(transport, sign_in, f"instructions/{told}/")
    phone.cut()
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")

    expect(phone.open("vitals/").page.locator(".news-item:visible")).to_have_count(0)
    expect(phone.open(f"instructions/{told}/").outcome).to_contain_text("Kept on this phone")
    expect(phone.main).to_be_hidden()
    phone.mend()
    expect(phone.outcome).to_contain_text("Sent ")


@pytest.mark.night
def test_a_new_destination_is_seen_by_a_press_on_either_side(transport: Transport, sign_in: SignIn):
    board = sign_in("merrin", "/board/")
    phone = phone_of(transport, sign_in)
    for by, place in ((transport.team.osk, "Tor Clinic"), (transport.team.merrin, "Harrow Point")):
        cases.patch_case(by, transport.uid, {"destination": place}, clock.now())
        if by is transport.team.osk:
            notice = board.locator("[data-part='destination']")
            expect(notice).to_contain_text(place)
            notice.get_by_role("button", name="Seen").click()
        else:
            notice = phone.page.locator(".news-item:visible")
            expect(notice).to_contain_text(place)
            expect(notice).to_have_attribute("data-settled", "")
            with phone.page.expect_response(f"**/api/v1/cases/{transport.uid}/"):
                notice.get_by_role("button", name="Seen").click()
        expect(notice).to_have_count(0)
    assert card(transport)["destination_told"] is None
