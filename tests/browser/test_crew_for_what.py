"""A drug is found by a part of its name, given for what it is for and by a route with limits of its own."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.browser.conftest import Take


def test_a_drug_is_found_by_a_part_of_its_name(take: Take):
    phone = take("give/")
    rows = phone.page.locator(".rows > li:visible b")
    phone.page.locator("#find").fill("MIDAZ")
    for text in rows.all_text_contents():
        assert text.startswith("midazolam")
    expect(rows.first).to_be_visible()

    phone.page.locator("#find").fill("zzz")
    expect(rows).to_have_count(0)
    expect(phone.page.locator("#found-none")).to_be_visible()

    phone.page.locator("#find").fill("naloxone")  # not called for, in a part that is folded
    expect(rows.first).to_contain_text("naloxone")


def test_a_seizure_by_the_muscle(take: Take):
    """RAMPART (2012): midazolam 10 mg IM over 40 kg for a seizure; one route alone is chosen with its limits."""
    phone = take("give/midazolam/?for=seizure")
    phone.page.locator("#by-route a").filter(has_text="IM").click()
    phone.ready()
    expect(phone.page.locator("input[name=route]:checked")).to_have_value("IM")
    phone.pick("5 mg per mL")
    phone.dose("10 mg")

    expect(phone.page.locator("#dose-amount")).to_have_text("10 mg")
    expect(phone.page.locator("#dose-volume")).to_contain_text("2 mL")
    expect(phone.main).to_contain_text("10 mg = 2 mL midazolam IM for a seizure")
    phone.main.click()
    expect(phone.outcome).to_contain_text("for a seizure")
    expect(phone.link).to_have_text("All sent")
