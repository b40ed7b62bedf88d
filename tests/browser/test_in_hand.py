"""What is in hand on a crew's phone: mixed in two taps, also without a link; drawn from, discarded, a cylinder."""

from __future__ import annotations

import re
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import containers
from consult.models import Container
from tests.browser.axe import serious_faults
from tests.browser.conftest import Take, Transport

pytestmark = pytest.mark.browser

PUSH = "epinephrine-push-dose"


@pytest.fixture
def pressure_before() -> dict[str, float]:
    return {"sbp": 74, "dbp": 44}


def test_a_syringe_is_recorded_in_two_taps_and_stands_on_the_list(take: Take):
    phone = take(f"give/{PUSH}/")
    phone.page.locator("#mixed").click()
    phone.page.wait_for_url(f"**/mixed/{PUSH}/")
    phone.ready()
    expect(phone.main).to_contain_text("Mixed: 10 mL syringe of 10 mcg per mL")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")

    made = Container.objects.get()
    assert (made.form, made.treatment) == ("syringe", PUSH)
    assert made.data["strength"] == {"value": 10, "unit": "mcg/mL"}
    assert made.data["volume"] == {"value": 10, "unit": "mL"}
    assert made.data["mixed_by"]
    expect(phone.open().page.locator('[data-part="in-hand"]')).to_contain_text("10 mL left")


def test_without_a_link_it_waits_and_goes_out_later(take: Take):
    phone = take(f"mixed/{PUSH}/")
    phone.cut()
    phone.page.fill('input[name="checked_by"]', "B. Lund")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")
    assert not Container.objects.exists()
    phone.mend()

    expect(phone.outcome).to_contain_text("Sent")
    assert Container.objects.get().data["checked_by"] == "B. Lund"


def test_the_second_check_is_another_persons_and_one_recorded_syringe_is_ticked_once(take: Take):
    phone = take(f"mixed/{PUSH}/")
    mixed_by = phone.page.input_value('input[name="mixed_by"]')
    phone.page.fill('input[name="checked_by"]', mixed_by.upper())
    expect(phone.main).to_contain_text("Checked by another person, or leave it empty")
    expect(phone.main).to_have_attribute("aria-disabled", "true")
    phone.page.fill('input[name="checked_by"]', "")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")

    phone.page.get_by_role("link", name="Back to the dose").click()
    phone.ready()
    phone.pick("IV")
    phone.dose("10 mcg")
    expect(phone.main).to_contain_text("Check off which syringe: 10 mcg")  # that in hand, or a prefilled one
    phone.page.get_by_label("In hand: EPINEPHrine push dose 10 mcg per mL").check()
    expect(phone.main).to_contain_text("Given now: 10 mcg = 1 mL EPINEPHrine IV")


def test_who_checks_off_another_syringe_or_a_step_of_a_recipe_leaves_the_first(take: Take):
    """A dose comes from one syringe: the other is not said to be ready, too."""
    phone = take(f"mixed/{PUSH}/")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    phone.open(f"give/{PUSH}/").pick("IV")
    phone.dose("10 mcg")
    held = phone.page.get_by_label("In hand: EPINEPHrine push dose 10 mcg per mL")
    prefilled = phone.page.locator("ul.recipe:not([data-held]) input")
    held.check()
    prefilled.check()
    expect(held).not_to_be_checked()
    expect(phone.main).to_contain_text("Given now")
    phone.page.locator("summary").filter(has_text="Or prepare").first.click()
    phone.page.locator("ol.recipe input:visible").first.check()
    expect(prefilled).not_to_be_checked()
    expect(phone.main).to_contain_text("Check off which syringe: 10 mcg")


def test_what_is_left_is_told_alike_everywhere_after_a_dose(take: Take, transport: Transport):
    phone = take(f"mixed/{PUSH}/")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    phone.open(f"give/{PUSH}/")
    ticked = phone.page.locator("[data-held]")
    expect(ticked).to_contain_text("10 mL left")

    transport.give(10)
    expect(phone.page.locator('[data-part="in-hand"]')).to_contain_text("9 mL left")
    expect(ticked).to_contain_text("9 mL left")

    containers.discard(transport.team.osk, Container.objects.get().uid, {"id": uuid4(), "at": clock.now()}, clock.now())
    expect(ticked).to_contain_text("no longer in hand")


@pytest.mark.night
def test_another_strength_than_the_recipes_is_recorded_as_it_is(take: Take):
    phone = take(f"mixed/{PUSH}/")
    phone.page.fill('input[name="strength.value"]', "100")
    expect(phone.main).to_contain_text("of 100 mcg per mL")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")

    note = phone.open().page.locator('[data-part="in-hand"]')
    expect(note).to_contain_text("100 mcg per mL in hand, usual 10 mcg per mL")


def test_of_two_strengths_in_hand_one_is_chosen_and_it_alone_is_drawn_from(take: Take):
    phone = take()
    for strength in ("10", "20"):
        phone.open(f"mixed/{PUSH}/")
        phone.page.fill('input[name="strength.value"]', strength)
        phone.main.click()
        expect(phone.outcome).to_contain_text("Sent")
    phone.open(f"give/{PUSH}/")
    expect(phone.page.locator("#drawn-from [aria-current]")).to_contain_text("10 mcg per mL in hand")
    phone.page.locator("#drawn-from a").filter(has_text="20 mcg per mL").click()
    phone.page.wait_for_url(re.compile("from="))
    phone.ready()
    phone.pick("IV")
    phone.dose("20 mcg")
    phone.page.get_by_label("In hand: EPINEPHrine push dose 20 mcg per mL").check()
    expect(phone.main).to_contain_text("Given now: 20 mcg = 1 mL EPINEPHrine IV")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")

    in_hand = phone.open().page.locator('[data-part="in-hand"] a.row')
    expect(in_hand.filter(has_text="10 mcg per mL,")).to_contain_text("10 mL left")
    expect(in_hand.filter(has_text="20 mcg per mL,")).to_contain_text("9 mL left")


@pytest.mark.night
def test_what_comes_ready_is_drawn_up_not_mixed(take: Take):
    phone = take("give/fentanyl/")
    phone.page.get_by_role("link", name="Drawn up: record it").click()
    phone.page.wait_for_url("**/mixed/fentanyl/")
    phone.ready()
    phone.type(**{"volume.value": 2})
    phone.pick("Syringe")
    expect(phone.main).to_contain_text("Drawn up: 2 mL syringe of 50 mcg per mL, fentaNYL")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Drawn up: 2 mL syringe")

    phone.open().page.locator('[data-part="in-hand"] a').click()
    expect(phone.page.locator("dl.words")).to_contain_text("Drawn up")
    expect(phone.page.locator("dl.words")).not_to_contain_text("Mixed")


@pytest.mark.night
def test_a_bag_wants_its_strength_volume_and_form(take: Take):
    phone = take("mixed/norepinephrine-infusion/")
    expect(phone.main).to_contain_text("Strength and volume first")
    phone.pick("16 mcg per mL")
    phone.type(**{"volume.value": 250})
    expect(phone.main).to_contain_text("Syringe or bag?")
    phone.pick("Bag")
    expect(phone.main).to_contain_text("Mixed: 250 mL bag of 16 mcg per mL")


@pytest.mark.night
def test_a_cylinder_is_told_by_its_gauge(take: Take):
    phone = take("cylinder/")
    phone.pick("E")
    phone.type(**{"cylinder.pressure.value": 1200})
    phone.pick("psi")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")

    expect(phone.open().page.locator('[data-part="in-hand"]')).to_contain_text("280 L left")


@pytest.mark.night
def test_what_is_discarded_leaves_the_list(take: Take):
    phone = take(f"mixed/{PUSH}/")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    phone.open().page.locator('[data-part="in-hand"] a.row').click()
    phone.page.wait_for_url("**/in-hand/**")
    phone.ready()
    faults: list[str] = []
    phone.page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    phone.pick("Past its discard time")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    expect(phone.page.locator('[data-part="what"]')).to_contain_text("Discarded")
    expect(phone.page.locator("main")).not_to_contain_text("10 mL left")
    expect(phone.page.get_by_role("button", name="Change the reason")).to_have_count(0)
    assert not faults

    assert Container.objects.get().discarded_because == "Past its discard time"
    expect(phone.open().page.locator('[data-part="in-hand"] a.row')).to_have_count(0)


@pytest.mark.parametrize("path", [f"mixed/{PUSH}/", "cylinder/"])
@pytest.mark.night
def test_nothing_overflows_and_everybody_can_use_it(take: Take, path: str):
    phone = take(path)

    assert phone.page.evaluate("document.documentElement.scrollWidth") <= 390
    assert serious_faults(phone.page) == []
