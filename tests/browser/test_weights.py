"""A weight by age on the crew's phone, with and without a link, and one that is asked back once."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from consult.models import Case
from dosing.ground.facts import Age
from dosing.patient.weight import by_age, steps
from tests.browser.conftest import SignIn, Team
from tests.browser.crew_phone import PHONE, Phone


@pytest.fixture
def opening(sign_in: SignIn, team: Team) -> Phone:
    """On the page that opens a case; the crew has none yet."""
    page: Page = sign_in("osk", "/crew/open/", **PHONE)
    page.wait_for_url("**/crew/open/")
    phone = Phone(page, "").ready()
    expect(phone.link).to_have_text("All sent")
    return phone


def age(phone: Phone, value: float, unit: str) -> None:
    phone.page.locator('input[name="patient.age.value"]').fill(str(value))
    phone.pick(unit)


def offer(phone: Phone) -> Any:
    return phone.page.locator("[data-by-age] button")


def weigh(phone: Phone, kilograms: float, basis: str) -> None:
    """Type a weight, and choose how it is known where the weight's own choices stand."""
    phone.page.locator('input[name="patient.weight.value"]').fill(str(kilograms))
    phone.page.locator(f'input[name="patient.weight.basis"][value="{basis}"]').check(force=True)


def test_the_page_looks_up_what_the_formulas_say(opening: Phone):
    """Every age that can be typed, beside the server's own estimate."""
    ages = [(value, "days") for value in range(0, 800, 7)] + [(value, "months") for value in range(170)]
    ages += [(value / 4, "years") for value in range(60)] + [(130, "years"), (5, "weeks")]

    told = opening.page.evaluate(
        """async ([steps, ages]) => {
          const { offerAt } = await import("/static/crew/fields.js");
          return ages.map(([age, unit]) => offerAt(steps, age, unit)?.kg ?? null);
        }""",
        [steps(), ages],
    )

    known = [by_age(Age(*each)) if each[1] != "weeks" else None for each in ages]
    assert told == [None if estimate is None else float(estimate.kilograms) for estimate in known]
    assert any(told)


def test_by_age_fills_in_the_weight_and_how_it_is_known_without_a_link_too(opening: Phone):
    opening.cut()
    age(opening, 5, "years")
    expect(offer(opening)).to_have_text("By age: 22 kg (estimate)")
    expect(opening.page.locator("[data-by-age] p")).to_contain_text("Luscombe and Owens")

    offer(opening).click()

    expect(opening.page.locator('input[name="patient.weight.value"]')).to_have_value("22")
    expect(opening.page.locator('input[name="patient.weight.basis"][value="age"]')).to_be_checked()
    expect(offer(opening)).to_be_hidden()
    opening.main.click()
    expect(opening.outcome).to_contain_text("Case opened: 5 years, 22 kg by age")
    opening.mend()
    expect(opening.outcome).to_contain_text("Sent")
    assert Case.objects.get().patient["weight"] == {"value": 22, "unit": "kg", "basis": "age"}


@pytest.mark.parametrize(("value", "unit"), [(54, "years"), (0, "days"), (13, "years")])
@pytest.mark.night
def test_nothing_is_offered_where_no_formula_is_for_the_age(opening: Phone, value: float, unit: str):
    age(opening, value, unit)

    expect(offer(opening)).to_be_hidden()


@pytest.mark.night
def test_an_offer_takes_back_that_the_weight_is_unknown(opening: Phone):
    age(opening, 6, "months")
    opening.pick("Weight unknown")
    offer(opening).click()

    expect(opening.page.locator('input[name="patient.weight.value"]')).to_have_value("7.5")
    expect(opening.page.locator('input[name="weight_unknown"]')).not_to_be_checked()
    expect(opening.main).to_contain_text("Open the case")


def test_a_weight_that_hardly_fits_is_asked_before_it_is_sent_and_a_new_one_by_age_is_not(opening: Phone):
    age(opening, 5, "years")
    weigh(opening, 45, "stated")
    opening.main.click()
    expect(opening.page.locator("[data-doubt]")).to_have_text(
        re.compile("heavier than nearly all of that age.*20.4 kg")
    )
    assert not Case.objects.exists()
    expect(opening.main).to_have_attribute("aria-disabled", "false")
    opening.main.click()
    expect(opening.outcome).to_contain_text("Sent")

    phone = Phone(opening.page, str(Case.objects.get().uid)).open("patient/")
    expect(offer(phone)).to_have_text("By age: 22 kg (estimate)")
    offer(phone).click()
    phone.main.click()

    expect(phone.outcome).to_contain_text("Changed: weight 22 kg by age")
    expect(phone.outcome).to_contain_text("Sent")
    assert Case.objects.get().patient["weight"] == {"value": 22, "unit": "kg", "basis": "age"}


def test_a_dose_on_a_guess_says_for_which_weights_it_is_right(opening: Phone):
    age(opening, 5, "years")
    offer(opening).click()
    opening.main.click()
    expect(opening.outcome).to_contain_text("Sent")
    phone = Phone(opening.page, str(Case.objects.get().uid)).open("give/crystalloid-bolus/")
    phone.pick("IV")
    phone.pick("Other")
    amount, findings = phone.page.locator('input[name="amount.value"]'), phone.page.locator("#findings")
    amount.fill("300")
    expect(findings.locator(".made-with")).to_be_visible()
    expect(findings).not_to_contain_text("Weight matters")  # 10 kg, at 30 mL/kg: nobody takes that for 22 kg

    # standing 30 mL/kg: 600 mL are over that below 20 kg; a caution already, because no pressure was taken
    amount.fill("600")
    expect(findings).to_contain_text("Weight matters: below 20 kg needs an order")
    expect(phone.page.locator("#dose-of")).to_be_empty()  # a volume is its own volume


@pytest.mark.night
def test_a_physicians_check_says_so_too(opening: Phone, sign_in: SignIn):
    age(opening, 5, "years")
    offer(opening).click()
    opening.main.click()
    expect(opening.outcome).to_contain_text("Sent")
    page = sign_in("merrin", f"/cases/{Case.objects.get().uid}/")
    page.get_by_role("button", name="Order from the rules").click()
    form = page.locator("form[data-name='order']")
    form.get_by_label("Treatment").select_option("crystalloid-bolus")
    form.locator("[name='amount.value']").fill("600")
    form.locator("[name='amount.unit']").select_option("mL")
    form.locator("[name='route']").select_option("IV")

    expect(form.locator("[data-findings] li").filter(has_text="Weight matters: ")).to_have_text(
        "Weight matters: below 20 kg needs an order"  # standing 30 mL/kg
    )
