"""How fluid and infusions are made to run, on the crew's phone: once a dose is chosen, and while a bolus runs."""

from __future__ import annotations

from playwright.sync_api import expect

from consult import queries
from consult.models import Case
from tests.browser.conftest import Take, Transport

BOLUS = "crystalloid-bolus"


def test_a_bolus_by_cannula_and_drops(take: Take):
    """1,000 mL in 15 min goes through an 18 G by gravity (textbook); its drops are too fast to count."""
    phone = take("give/crystalloid-bolus/")
    flow = phone.page.locator("#flow")
    expect(flow).to_be_hidden()
    phone.pick("IV")
    phone.dose("1000 mL")
    phone.pick("15 min")
    expect(phone.page.locator("#dose-amount")).to_have_text("1,000 mL")
    expect(phone.page.locator("#dose-volume")).to_have_text("over 15 min")
    assert phone.page.evaluate("document.documentElement.scrollWidth <= innerWidth")

    expect(flow).to_contain_text("1,000 mL in 15 min is 66.7 mL/min")
    expect(flow).to_contain_text("18 G or larger by gravity")
    expect(flow).to_contain_text("Drops too fast to count")
    expect(flow).not_to_contain_text("ISO 8536-4")


def test_a_bag_that_does_not_hold_the_next_bolus_is_not_drawn_from(take: Take, transport: Transport):
    """500 of 750 mL are in: 250 are left. The page counts what it gave itself, with and without a link."""
    transport.vitals(sbp=74, dbp=44)
    transport.give(0, treatment=BOLUS, amount={"value": 500, "unit": "mL"}, container_ml=750)
    phone = take(f"give/{BOLUS}/")
    bag = phone.page.locator("#bag-left")
    expect(bag).to_have_text("250 mL left in the bag that hangs")
    phone.pick("IV")
    phone.dose("500 mL")
    expect(bag).to_have_text("250 mL left in the bag that hangs: enter the new bag")
    expect(phone.main).to_contain_text("Enter the mL of the new bag")
    expect(phone.main).to_have_attribute("aria-disabled", "true")
    phone.dose("250 mL")
    expect(bag).to_have_text("250 mL left in the bag that hangs")
    phone.cut()
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")
    phone.page.get_by_role("button", name="Another dose").click()
    phone.pick("IV")
    phone.dose("500 mL")
    expect(bag).to_have_text("The bag that hung is empty: enter the new bag")
    phone.type(container_ml=1000)
    expect(phone.main).to_contain_text("Started now: 500 mL")
    phone.main.click()
    phone.mend()
    expect(phone.outcome).to_contain_text("Sent")

    case = Case.objects.get()
    assert [line["left"]["value"] for line in queries.card(case)["in_hand"]] == [500]


def test_an_infusion_by_pump_in_every_unit(take: Take):
    """0.05 mcg/kg/min for 80 kg of 16 mcg per mL: 4 mcg/min, 15 mL/h; the dose wraps and is nowhere cut."""
    phone = take("give/norepinephrine-infusion/")
    phone.pick("IV")
    phone.pick("0.05 mcg/kg/min")
    phone.pick("16 mcg per mL")

    expect(phone.page.locator("#flow")).to_contain_text("0.05 mcg/kg/min = 4 mcg/min = 15 mL/h")
    expect(phone.page.locator("#flow")).to_contain_text("Pump: set 15 mL/h")
    assert phone.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    first, second = (phone.page.locator(f"#dose-{name}").bounding_box() for name in ("amount", "volume"))
    assert first
    assert second
    assert first["y"] + first["height"] <= second["y"] or first["x"] + first["width"] <= second["x"]


def test_a_bolus_that_is_stopped_says_how_much_went_in(take: Take, transport: Transport):
    """What is typed in the one field goes out with the stop, and the stop waits for it or for "Not known"."""
    transport.give(500, treatment="crystalloid-bolus", amount={"value": 500, "unit": "mL"}, status="running")
    (dose,) = queries.card(Case.objects.get())["doses"]
    phone = take(f"change/{dose['id']}/")
    expect(phone.page.get_by_label("Infused")).to_have_count(1)
    expect(phone.page.get_by_role("button", name="When will it be in?")).to_be_visible()
    phone.pick("Stopped or paused")
    expect(phone.page.get_by_role("button", name="When will it be in?")).to_be_hidden()
    expect(phone.main).to_contain_text("How much went in, or not known?")
    phone.pick("Not known")
    expect(phone.main).to_contain_text("Record the stop: crystalloid bolus")
    phone.type(**{"infused.value": 0})
    expect(phone.main).to_contain_text("Record the stop: crystalloid bolus, 0 mL went in")
    phone.type(**{"infused.value": 120})
    expect(phone.main).to_contain_text("Record the stop: crystalloid bolus, 120 mL went in")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    expect(phone.outcome).to_contain_text("Stopped, 120 mL went in")
    (dose,) = queries.card(Case.objects.get())["doses"]
    assert (dose["status"], dose["infused"]) == ("stopped", {"value": 120, "unit": "mL"})
