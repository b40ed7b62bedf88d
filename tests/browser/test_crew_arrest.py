"""Cardiac arrest on the crew's phone: two presses start it, one press each records, and it counts on without a link."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from consult import queries
from consult.actions import cases, notes
from consult.clock import now
from consult.models import Case, Correction, Intervention, Note, PhaseChange, Procedure, Vitals
from tests.browser.conftest import Take, Transport
from tests.browser.crew_phone import Phone


@pytest.fixture
def phone(take: Take) -> Phone:
    return take()


def start(phone: Phone) -> None:
    phone.page.locator("#arrest-control > summary").click()
    key(phone, "Start: cardiac arrest now").click()
    expect(phone.page.locator("#arrest-work")).to_be_visible()


def key(phone: Phone, text: str) -> Any:
    return phone.page.locator(".press:visible").filter(has_text=text).first


def press(phone: Phone, *texts: str) -> None:
    for text in texts:
        key(phone, text).click()


def confirm(phone: Phone, what: str, yes: str) -> None:
    phone.page.locator(".arrest-end > summary").filter(has_text=what).click()
    press(phone, yes)


def card(transport: Transport) -> dict[str, Any]:
    return queries.card(Case.objects.get(uid=transport.uid))


def test_one_press_alone_starts_nothing(phone: Phone):
    phone.page.locator("#arrest-control > summary").click()
    expect(key(phone, "Start: cardiac arrest now")).to_be_visible()
    expect(phone.page.locator("#arrest-work")).to_be_hidden()
    assert not PhaseChange.objects.exists()


def test_it_starts_by_keyboard_alone(phone: Phone, transport: Transport):
    phone.page.locator("#arrest-control > summary").focus()
    phone.page.keyboard.press("Enter")
    phone.page.keyboard.press("Tab")
    with phone.page.expect_response(lambda answer: answer.request.method == "POST" and answer.ok):
        phone.page.keyboard.press("Enter")
    expect(phone.page.locator("#arrest-work")).to_be_focused()
    assert card(transport)["phase"] == "arrest"


def test_what_the_phone_could_not_keep_does_not_stand_there_as_if_it_were(phone: Phone, transport: Transport):
    """A store that takes nothing, and then does again: the same press is done once."""
    phone.page.evaluate(FULL)
    phone.page.locator("#arrest-control > summary").click()
    key(phone, "Start: cardiac arrest now").click()
    expect(phone.page.locator("#not-kept")).to_contain_text("Cardiac arrest")
    expect(phone.page.locator("#arrest-work")).to_be_hidden()
    phone.page.evaluate("() => { IDBObjectStore.prototype.add = window.room; }")
    key(phone, "Start: cardiac arrest now").click()
    expect(phone.page.locator("#arrest-work")).to_be_visible()
    expect(phone.page.locator("#not-kept")).to_have_count(0)
    expect(phone.link).to_have_text("All sent")
    assert PhaseChange.objects.count() == 1


FULL = """() => {
  window.room = IDBObjectStore.prototype.add;
  IDBObjectStore.prototype.add = () => { throw new DOMException("full", "QuotaExceededError"); };
}"""


@pytest.mark.night
def test_it_starts_at_its_top(take: Take, transport: Transport):
    """Time, compressions, rhythm and the shocks stand in sight, though the page was scrolled a little before."""
    transport.vitals(sbp=74, dbp=44)
    transport.give(10)
    transport.ask()
    phone = take()
    phone.page.evaluate("scrollTo(0, 60)")
    start(phone)
    expect(phone.page.locator("#arrest-control")).to_be_hidden()
    expect(phone.link).to_have_text("All sent")
    for part in ("#arrest-title", "#cycle-word", "#rhythm-word", "#shock-word"):
        assert phone.page.evaluate(IN_SIGHT, part), part


IN_SIGHT = """(part) => {
  const box = (each) => document.querySelector(each).getBoundingClientRect();
  return box(part).top >= box(".top").bottom - 1 && box(part).bottom <= box(".dock").top + 1;
}"""


def test_what_the_patient_wants_stands_on_the_control(transport: Transport, take: Take):
    changed = {"patient": {"care_limits": "no_cpr"}}
    cases.patch_case(transport.team.osk, transport.uid, changed, now())
    control = take().page.locator("#arrest-control > summary")
    expect(control).to_contain_text("No CPR is recorded")


def test_each_press_is_one_entry_and_the_page_counts_it(phone: Phone, transport: Transport):
    start(phone)
    press(phone, "Compressions on", "VF", "Shock 200 J", "Gave 1 mg IV", "Supraglottic")
    page = phone.page
    expect(page.locator("#shocks")).to_have_text("1")
    expect(page.locator("#shock-word")).to_contain_text("last 200 J")
    expect(page.locator("[data-count-given]")).to_have_text("1")
    expect(page.locator("#rhythm-word")).to_contain_text("ventricular fibrillation")
    page.locator(".arrest-work summary").filter(has_text="Reversible causes").click()
    press(phone, "Hypoxia")
    expect(page.locator("#causes-count")).to_have_text("1 of 10 considered")
    expect(page.get_by_text("kept on this phone")).to_have_count(0)
    expect(phone.link).to_have_text("All sent")

    told = card(transport)["arrest"]
    assert (told["shocks"], told["last_shock"]["joules"], told["doses"][0]["count"]) == (1, 200, 1)
    assert [each["procedure"] for each in card(transport)["procedures"]] == ["cpr", "defibrillation", "airway"]
    assert Vitals.objects.get().data["rhythm"] == "ventricular fibrillation"
    assert Note.objects.get().text == "Reversible cause considered: hypoxia"
    assert Intervention.objects.get().verdict["verdict"] == "within"


LEADS = """(key) => {
  const fill = (each) => getComputedStyle(each).backgroundColor;
  return fill(key) === fill(document.querySelector('[data-press="procedure"][data-value="cpr"]'));
}"""


def leads(phone: Phone, text: str) -> bool:
    return key(phone, text).evaluate(LEADS)


def test_the_shock_leads_only_in_a_rhythm_that_is_shocked(phone: Phone):
    """VF and VT without a pulse are shocked, PEA and asystole are not (life support guidelines, from memory)."""
    start(phone)
    assert not leads(phone, "Shock 200 J"), "no rhythm is told"
    for rhythm, shocked in (("VF", True), ("Asystole", False), ("VT, no pulse", True), ("PEA", False)):
        press(phone, rhythm)
        told = key(phone, rhythm).get_attribute("data-value") or ""
        expect(phone.page.locator("#rhythm-word")).to_contain_text(told)
        assert leads(phone, "Shock 200 J") == shocked, rhythm
    press(phone, "Shock 200 J")
    expect(phone.page.locator("#shocks")).to_have_text("1")
    assert not leads(phone, "Shock 200 J"), "the energy given last leads no more than the first"
    expect(phone.link).to_have_text("All sent")
    press(phone, "VF")
    expect(phone.link).to_have_text("All sent")
    phone.page.reload()
    phone.ready()
    assert leads(phone, "Shock 200 J")


@pytest.mark.parametrize(("minutes", "due"), [(2, False), (4, True)])
def test_a_dose_leads_from_when_the_next_may_follow(minutes: int, due: bool, transport: Transport, take: Take):
    """3 min from one epinephrine to the next (life support guidelines, from memory)."""
    begun = now() - timedelta(minutes=minutes + 1)
    notes.change_phase(transport.team.osk, transport.uid, {"id": uuid4(), "at": begun, "phase": "arrest"}, now())
    one = {"treatment": "epinephrine-arrest", "amount": {"value": 1, "unit": "mg"}, "route": "IV"}
    transport.give(0, **one, given_at=now() - timedelta(minutes=minutes))
    phone = take()
    expect(phone.page.locator("[data-count-given]")).to_have_text("1")
    assert leads(phone, "Gave 1 mg IV") == due
    press(phone, "Gave 1 mg IV")
    expect(phone.page.locator("[data-count-given]")).to_have_text("2")
    phone.page.mouse.move(0, 0)
    assert not leads(phone, "Gave 1 mg IV")


def test_a_pause_in_compressions_counts_up_until_they_are_on_again(phone: Phone, transport: Transport):
    start(phone)
    press(phone, "Compressions on", "Pause")
    word = phone.page.locator("#cycle-word")
    expect(word).to_have_text("PAUSED for")
    expect(phone.page.locator("#cycle")).to_have_text(re.compile(r"^0:0\d$"))
    expect(phone.page.locator("#pause")).to_be_disabled()
    phone.page.reload()
    phone.ready()
    expect(word).to_have_text("PAUSED for")
    press(phone, "Compressions on")

    expect(word).to_have_text("rhythm check in")
    expect(phone.link).to_have_text("All sent")
    (span,) = card(transport)["arrest"]["spans"]
    assert (span["compressions"]["paused"], span["compressions"]["since"]) == (1, None)


def test_both_clocks_run_down(phone: Phone):
    """2 min of compressions, 3 min from one epinephrine to the next (life support guidelines, from memory)."""
    start(phone)
    press(phone, "Compressions on", "Gave 1 mg IO")
    for place, most in (("#cycle", 120), ("[data-dose-clock]", 180)):
        expect(phone.page.locator(place)).to_have_text(re.compile(r"^\d+:\d\d$"))
        minutes, seconds = phone.page.locator(place).inner_text().split(":")
        assert most - 20 < 60 * int(minutes) + int(seconds) <= most + 1


def test_the_page_works_with_doses_on_record(take: Take, transport: Transport):
    """One from before the arrest, one of it: both are listed below, and the keys above go on working."""
    transport.vitals(sbp=74, dbp=44)
    transport.give(10)
    phone = take()
    start(phone)
    press(phone, "Gave 1 mg IV")
    expect(phone.link).to_have_text("All sent")
    phone.page.reload()
    phone.ready()
    expect(phone.link).to_have_text("All sent")
    expect(phone.page.locator("[data-given]")).to_have_count(2)
    expect(phone.page.locator("[data-count-given]").first).to_have_text("1")
    press(phone, "Compressions on", "Shock 200 J")
    expect(phone.page.locator("#shocks")).to_have_text("1")


def test_a_slip_of_the_thumb_is_one_shock_and_can_be_taken_back(phone: Phone, transport: Transport):
    start(phone)
    key(phone, "Shock 200 J").dblclick()
    expect(phone.page.locator("#shocks")).to_have_text("1")
    undo = phone.page.get_by_role("button", name="Undo: Shock 200 J")
    expect(undo).to_be_in_viewport(ratio=1)  # beside the press, though nobody has scrolled
    undo.click()
    expect(phone.page.locator("#shocks")).to_have_text("0")
    expect(phone.link).to_have_text("All sent")
    assert (Procedure.objects.count(), Correction.objects.count()) == (1, 1)
    assert card(transport)["arrest"]["shocks"] == 0


def test_a_dose_right_after_the_last_is_asked_about_and_given_by_the_press_that_follows(take: Take):
    phone = take("", clock=True)
    start(phone)
    count, word = phone.page.locator("[data-count-given]").first, phone.page.locator("[data-dose-word]").first
    press(phone, "Gave 1 mg IV")
    expect(count).to_have_text("1")
    phone.page.clock.run_for(2000)  # later than a slip of the thumb
    press(phone, "Gave 1 mg IV")
    expect(word).to_contain_text("so soon?")
    phone.page.clock.run_for(2000)
    press(phone, "Gave 1 mg IV")
    expect(count).to_have_text("2")


def test_a_question_about_a_dose_that_nobody_answers_goes(take: Take):
    phone = take("", clock=True)
    start(phone)
    word = phone.page.locator("[data-dose-word]").first
    press(phone, "Gave 1 mg IV")
    phone.page.clock.run_for(2000)
    press(phone, "Gave 1 mg IO")
    expect(word).to_contain_text("so soon?")
    phone.page.clock.run_for(9000)
    expect(word).to_contain_text("last")
    expect(phone.page.locator("[data-count-given]").first).to_have_text("1")


@pytest.mark.night
def test_another_energy_is_typed_and_offered_from_then_on(phone: Phone):
    start(phone)
    phone.page.locator("#other-joules").fill("150")
    phone.page.locator('[data-from="other-joules"]').click()
    expect(phone.page.locator("#shock-word")).to_contain_text("last 150 J")
    key(phone, "Shock 150 J").click()
    expect(phone.page.locator("#shocks")).to_have_text("2")
    phone.page.reload()
    expect(key(phone, "Shock 150 J")).to_be_visible()
    expect(phone.page.locator("#shocks")).to_have_text("2")


@pytest.mark.night
def test_an_energy_that_no_device_has_enters_nothing(phone: Phone):
    start(phone)
    phone.page.locator("#other-joules").fill("2000")
    phone.page.locator('[data-from="other-joules"]').click()
    expect(phone.page.locator("#shocks")).to_have_text("0")


def test_without_a_link_all_of_it_works_and_arrives_once(phone: Phone, transport: Transport):
    phone.cut()
    start(phone)
    press(phone, "Compressions on", "Shock 200 J", "Gave 1 mg IV")
    expect(phone.link).to_have_text("Offline: 4 waiting")
    phone.page.reload()
    expect(phone.page.locator("#arrest-work")).to_be_visible()
    expect(phone.page.locator("#shocks")).to_have_text("1")
    confirm(phone, "Pulse is back", "Yes, pulse is back now")
    expect(phone.page.locator("#arrest-back")).to_contain_text("First set of vitals")
    assert not PhaseChange.objects.exists()

    phone.mend()
    expect(phone.link).to_have_text("All sent")
    told = card(transport)
    assert (told["phase"], told["arrest"]["shocks"], told["arrest"]["doses"][0]["count"]) == ("pulse_back", 1, 1)
    assert [each["because"] for each in told["reassessments"]] == ["the return of pulse"]
    assert PhaseChange.objects.count() == 2


def test_a_pulse_that_is_back_asks_for_its_first_set(phone: Phone):
    start(phone)
    confirm(phone, "Pulse is back", "Yes, pulse is back now")
    expect(phone.page.locator("[data-part=dues]")).to_contain_text("after the return of pulse")
    expect(phone.page.locator("#arrest-work")).to_be_hidden()
    expect(phone.page.locator("#arrest-control")).to_be_visible()


def test_with_a_pulse_again_the_pressure_stands_on_top_and_no_press_takes_the_arrest_back(
    phone: Phone, transport: Transport
):
    transport.vitals(sbp=84, dbp=44)
    start(phone)
    press(phone, "Compressions on", "Shock 200 J", "Gave 1 mg IO")
    expect(phone.page.get_by_role("button", name="Undo: Shock 200 J")).to_be_visible()
    confirm(phone, "Pulse is back", "Yes, pulse is back now")
    expect(phone.page.get_by_role("button", name="Undo: Pulse is back")).to_be_visible()
    expect(phone.page.locator(".arrest-log button:visible")).to_have_count(1)
    expect(phone.page.locator("[data-part=now] .now-value")).to_be_in_viewport(ratio=1)
    phone.page.locator(".arrest-log summary").click()
    expect(phone.page.get_by_role("button", name="Undo: Shock 200 J")).to_be_visible()
    expect(phone.page.locator(".arrest-log:visible")).to_contain_text("Cardiac arrest")
    expect(phone.page.get_by_role("button", name="Undo: Cardiac arrest")).to_have_count(0)
