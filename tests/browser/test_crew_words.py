"""What the crew's pages say before and after an entry: the button, the receipt, the limits that are left."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from consult.models import Case, Procedure
from tests.browser.conftest import Take, Transport
from tests.browser.crew_phone import Phone


@pytest.fixture
def pressure_before() -> dict[str, float]:
    return {"sbp": 74, "dbp": 44}


def give_ten(phone: Phone) -> None:
    phone.pick("IV")
    phone.dose("10 mcg")
    for step in phone.page.locator(".recipe").first.locator("input").all():
        step.check()
    expect(phone.main).to_contain_text("Given now")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")


def test_what_is_left_is_counted_down_on_the_page_that_stays_open(take: Take, transport: Transport):
    """Five pushes of together 100 mcg before an order: one of 10 mcg leaves four and 90 mcg."""
    transport.vitals(sbp=74, dbp=44, bp_method="cuff")
    phone = take("give/epinephrine-push-dose/")
    limits = phone.page.locator('[data-part="limits"]')
    expect(limits).to_contain_text("5 of 5 left, 100 mcg left in all")
    give_ten(phone)

    expect(limits).to_contain_text("4 of 5 left, 90 mcg left in all")
    phone.open("give/")
    expect(phone.page.locator(".row").filter(has_text="push dose").first).to_contain_text("4 of 5 left, 90 mcg")


def test_waiting_is_offered_only_where_waiting_helps(take: Take, transport: Transport):
    """After a push of 10 mcg another needs time and a pressure; one of 30 mcg needs an order at any time."""
    transport.vitals(sbp=74, dbp=44, bp_method="cuff")
    phone = take("give/epinephrine-push-dose/")
    give_ten(phone)
    phone.page.get_by_role("button", name="Another dose").click()
    phone.pick("IV")
    phone.dose("10 mcg")
    expect(phone.main).to_contain_text("Not before")

    phone.dose("other")
    phone.type(**{"amount.value": 30})
    phone.pick("mcg")
    expect(phone.main).to_contain_text("Needs an order")


@pytest.mark.night
def test_letters_in_a_number_are_told_before_anything_is_sent(take: Take):
    phone = take("patient/")
    for typed in ("8o", "eighty", "1.2.3", "1,5,0"):
        phone.page.locator('input[name="patient.weight.value"]').fill(typed)
        expect(phone.main).to_contain_text("Weight: a number")
        expect(phone.main).to_have_attribute("aria-disabled", "true")
    phone.page.locator('input[name="patient.weight.value"]').fill("82,5")
    phone.pick("measured")
    phone.main.click()

    expect(phone.outcome).to_contain_text("Changed: weight 82.5 kg measured")
    expect(phone.outcome).to_contain_text("Sent")
    assert Case.objects.get().patient["weight"]["value"] == 82.5


@pytest.mark.night
def test_a_procedure_is_named_as_it_was_chosen_with_gauge_and_site(take: Take):
    phone = take("procedure/")
    phone.pick("IV access")
    phone.pick("done")
    phone.page.locator('input[name="site"]').fill("left forearm")
    phone.pick("18 G")
    phone.main.click()

    expect(phone.outcome).to_contain_text("IV access 18 G left forearm, done")
    expect(phone.outcome).to_contain_text("Sent")
    phone.open("correction/")
    expect(phone.page.locator("main")).to_contain_text("IV access, done")
    phone.page.locator('input[name="target"]').first.check(force=True)
    phone.pick("Not done")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Entered in error: IV access, done")


def test_an_airway_is_told_with_the_device_and_its_size(take: Take):
    phone = take("procedure/")
    expect(phone.page.locator('[name="airway"]').first).to_be_hidden()
    phone.pick("Airway")
    phone.pick("Tube")
    phone.page.locator('input[name="site"]').fill("7.5, 22 cm")
    phone.pick("done")
    phone.main.click()

    expect(phone.outcome).to_contain_text("Airway Tube, 7.5, 22 cm, done")
    expect(phone.outcome).to_contain_text("Sent")
    assert Procedure.objects.get().data["site"] == "Tube, 7.5, 22 cm"


def test_a_shock_asks_for_its_energy_and_says_the_usual_one_beside_its_source(take: Take):
    phone = take("procedure/")
    usual = phone.page.locator('[data-for="cardioversion"]').filter(has_text="fast, wide and regular")
    energy = phone.page.locator('input[name="settings.joules"]')
    expect(energy).to_be_hidden()
    phone.pick("Cardioversion")
    expect(usual).to_contain_text("100 J, then 200 J, synchronized")
    expect(phone.page.locator('input[name="settings.rate"]')).to_be_hidden()
    energy.fill("361")
    phone.pick("done")
    expect(phone.main).to_have_attribute("aria-disabled", "true")
    energy.fill("100")
    phone.page.locator('input[name="settings.synchronized"][value="true"]').check(force=True)
    phone.main.click()

    expect(phone.outcome).to_contain_text("Cardioversion 100 J, synchronized, done")
    expect(phone.outcome).to_contain_text("Sent")
    assert Procedure.objects.get().data["settings"] == {"joules": 100, "synchronized": True}


@pytest.mark.night
def test_no_measurement_vanishes_where_the_button_has_no_room(take: Take):
    phone = take("vitals/")
    phone.pick("Cuff")
    phone.type(sbp=96, dbp=50, hr=110, spo2=95, rr=22, etco2=30, cap_refill_s=4, map_reported=66)

    expect(phone.main).to_contain_text("Send the 8 values above")
    named = "96/50 mmHg, HR 110, SpO2 95, monitor MAP 66, RR 22, EtCO2 30, refill 4 s"
    expect(phone.page.locator("#to-send")).to_have_text(named)


@pytest.mark.night
def test_an_estimate_is_told_as_one_and_the_way_back_stands_on_the_page(take: Take):
    phone = take("")
    phone.page.goto(phone.page.url.split("/crew/")[0] + "/crew/open/")
    phone.ready()
    expect(phone.page.get_by_role("link", name="Your cases")).to_be_visible()
    phone.page.locator('input[name="patient.age.value"]').fill("5")
    phone.pick("years")
    phone.page.get_by_role("button", name="By age").click()
    phone.main.click()

    expect(phone.outcome).to_contain_text("Case opened: 5 years, 22 kg by age")


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"sbp": 700, "dbp": 40}, "Systolic mmHg: 20 to 300"),
        ({"sbp": 90, "dbp": 240}, "Diastolic mmHg: 0 to 200"),
        ({"sbp": 64, "dbp": 70}, "Diastolic above systolic"),
        ({"sbp": 90, "dbp": 50, "spo2": 940}, "SpO2 %: 0 to 100"),
    ],
    ids=["a digit too many", "diastolic too", "the wrong way round", "beside the pressure"],
)
def test_a_number_that_cannot_be_is_judged_by_nobody_and_not_sent(take: Take, typed: dict[str, int], told: str):
    phone = take("vitals/")
    phone.pick("Cuff")
    phone.type(**typed)
    phone.page.locator("#now-goal").click()

    expect(phone.main).to_contain_text(told)
    expect(phone.main).to_have_attribute("aria-disabled", "true")
    if "spo2" not in typed:
        expect(phone.page.locator("#now-value")).to_have_text("–")
        expect(phone.page.locator("#now-state")).to_have_text("Check the numbers")
