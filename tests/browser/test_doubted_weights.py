"""An age and a weight that hardly go together are asked by a first press, with both figures; the second one sends them.

Outside the 3rd to 97th centile for the age (WHO, CDC); of adults 30 to 150 kg, our choice: 1.3 % of NHANES are heavier.
"""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from consult.models import Case
from dosing.ground.facts import Age
from dosing.patient.growth import spans, usual_kg
from tests.browser.conftest import SignIn, Team, Transport
from tests.browser.crew_phone import PHONE, Phone


@pytest.fixture
def opening(sign_in: SignIn, team: Team) -> Phone:
    return Phone(sign_in("osk", "/crew/open/", **PHONE), "").ready()


def fill(phone: Phone, years: float, kilograms: float) -> None:
    phone.type(**{"patient.age.value": years})
    phone.pick("years")
    phone.type(**{"patient.weight.value": kilograms})
    phone.page.locator('input[name="patient.weight.basis"][value="stated"]').check(force=True)


@pytest.mark.parametrize(
    ("years", "kilograms", "question"),
    [
        (4, 80, "4 years, 80 kg: heavier than nearly all of that age. Is that right?"),
        (6, 400, "6 years, 400 kg: heavier than nearly all of that age. Is that right?"),
        (10, 3, "10 years, 3 kg: lighter than nearly all of that age. Is that right?"),
        (54, 400, "54 years, 400 kg: heavier than nearly all adults. Is that right?"),
        (54, 7.4, "54 years, 7.4 kg: lighter than nearly all adults. Is that right?"),
    ],
)
def test_the_first_press_asks_with_both_figures_and_the_second_opens(
    opening: Phone, years: float, kilograms: float, question: str
):
    fill(opening, years, kilograms)
    expect(opening.page.locator("[data-doubt]")).to_have_text(question)
    opening.main.click()
    expect(opening.main).to_contain_text("Sure?")
    assert not Case.objects.exists()

    expect(opening.main).to_have_attribute("aria-disabled", "false")
    opening.main.click()
    expect(opening.outcome).to_contain_text("Sent")
    assert Case.objects.get().patient["weight"]["value"] == kilograms


@pytest.mark.night
def test_other_figures_are_asked_anew_and_those_that_go_together_are_not(opening: Phone):
    fill(opening, 4, 80)
    opening.main.click()
    expect(opening.main).to_contain_text("Sure?")
    opening.type(**{"patient.weight.value": 90})
    expect(opening.page.locator("[data-doubt]")).to_contain_text("4 years, 90 kg")
    opening.main.click()
    expect(opening.main).to_contain_text("Sure?")
    assert not Case.objects.exists()

    opening.type(**{"patient.weight.value": 18})
    expect(opening.page.locator("[data-doubt]")).to_be_hidden()
    opening.main.click()
    expect(opening.outcome).to_contain_text("Sent")


def test_a_new_weight_of_the_patient_is_asked_by_the_age_on_record(transport: Transport, sign_in: SignIn):
    phone = Phone(sign_in("osk", f"/crew/{transport.uid}/patient/", **PHONE), str(transport.uid)).ready()
    phone.type(**{"patient.weight.value": 162})
    phone.page.locator('input[name="patient.weight.basis"][value="stated"]').check(force=True)
    phone.main.click()
    expect(phone.page.locator("[data-doubt]")).to_contain_text(
        "162 kg: heavier than nearly all adults. Typed in pounds? That is 73.5 kg. Is that right?"  # 162 x 0.45359237
    )
    expect(phone.outcome).to_be_hidden()

    expect(phone.main).to_have_attribute("aria-disabled", "false")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")


@pytest.mark.night
def test_the_page_finds_the_weights_of_each_age_as_the_server_does(opening: Phone):
    ages: list[Any] = [(value, "years") for value in (0, 1, 2, 4, 17, 19, 20, 54)]
    ages += [(value, "months") for value in (0, 1, 11, 30)]
    told = opening.page.evaluate(
        """async ([spans, ages]) => {
          const { spanOf } = await import("/static/crew/doubt.js");
          const sexes = ["male", "female", "unknown"];
          return ages.flatMap(([value, unit]) => sexes.map((sex) => spanOf(spans, { value, unit }, sex)));
        }""",
        [spans(), ages],
    )

    assert told == [list(usual_kg(Age(*age), sex)) for age in ages for sex in ("male", "female", "")]
