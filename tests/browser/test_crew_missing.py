"""The main button of a form that is not complete says what is missing, and a press on it leads there."""

from __future__ import annotations

import pytest
from playwright.sync_api import Locator, expect

from tests.browser.conftest import Take, Transport
from tests.browser.crew_phone import Phone

SIZES = ((390, 844), (1440, 900))
PUSH, DRIP = "epinephrine-push-dose", "norepinephrine-infusion"


@pytest.fixture
def pressure_before() -> dict[str, float]:
    return {"sbp": 85, "dbp": 50}


# The page, what is chosen by text and typed by name before the press, the button's words, and the field in focus then.
CASES = [
    ("vitals/", [], {}, "Nothing typed yet", "sbp"),
    ("vitals/", [], {"sbp": 74}, "Diastolic, or palpated?", "dbp"),
    ("vitals/", ["Palpated"], {"hr": 120}, "Which systolic?", "sbp"),
    ("vitals/", [], {"dbp": 44}, "Systolic first", "sbp"),
    ("vitals/", [], {"spo2": 999}, "SpO2 %: 0 to 100", "spo2"),
    (f"give/{PUSH}/", [], {}, "Choose route and dose", "route"),
    (f"give/{PUSH}/", ["IV"], {}, "Choose the dose", "dose"),
    (f"give/{PUSH}/", ["IV", "Other"], {"amount.value": 15}, "Choose the dose", "amount.unit"),
    (f"give/{DRIP}/", ["IV", "16 mcg per mL"], {}, "Choose the rate", "dose"),
    (f"orders/request/?treatment={PUSH}", [], {}, "Choose route, dose and reason", "route"),
    (f"orders/request/?treatment={PUSH}", ["IV", "Other"], {}, "Choose dose and reason", "amount.value"),
    (f"orders/request/?treatment={DRIP}", ["IV", "16 mcg per mL"], {}, "Choose rate and reason", "dose"),
    ("orders/request/?treatment=other", [], {"name": "enalaprilat"}, "Which dose?", "amount.value"),
    ("procedure/", ["IV access"], {}, "Choose how it went", "outcome"),
    ("procedure/", ["Airway"], {}, "Which airway?", "airway"),
    ("note/", [], {}, "Nothing written yet", "text"),
    ("patient/", [], {"patient.weight.value": 70}, "Basis of the weight?", "patient.weight.basis"),
]  # fmt: skip


def stands_in_sight(phone: Phone, field: Locator) -> bool:
    """Whether it lies between what sticks to the top of the page and what sticks to its end."""
    place, top, dock = (
        each.bounding_box() for each in (field, phone.page.locator(".top"), phone.page.locator(".dock"))
    )
    assert place
    assert top
    assert dock
    return bool(top["y"] + top["height"] <= place["y"] and place["y"] + place["height"] <= dock["y"])


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desk"])
@pytest.mark.parametrize(("path", "chosen", "typed", "words", "field"), CASES, ids=lambda each: str(each)[:40])
def test_a_press_leads_to_it(
    take: Take, size: tuple[int, int], path: str, chosen: list[str], typed: dict[str, float], words: str, field: str
):
    phone = take(path, size=size)
    for text in chosen:
        phone.pick(text)
    for name, value in typed.items():
        phone.page.locator(f'[name="{name}"]').fill(str(value))
    phone.page.evaluate("scrollTo(0, document.body.scrollHeight)")
    expect(phone.main).to_contain_text(words)
    phone.main.click(force=True)

    missing = phone.page.locator(f'[name="{field}"]:focus')
    expect(missing).to_have_count(1)
    expect(phone.page.locator("[data-missing]")).to_have_count(1)
    assert stands_in_sight(phone, missing)


class TestReadingBack:
    @pytest.fixture
    def phone(self, take: Take, transport: Transport) -> Phone:
        order = transport.ask(30)
        transport.decide(order, transport.team.merrin, decision="approve", reason="agreed")
        return take(f"orders/{order}/readback/")

    def test_field_by_field(self, phone: Phone):
        phone.main.click(force=True)
        expect(phone.main).to_contain_text("Which drug?")
        expect(phone.page.locator("#drugs summary").first).to_be_focused()
        expect(phone.page.locator("#drugs details[open]")).to_have_count(0)
        assert phone.page.locator("#drugs").get_attribute("data-missing")

        phone.page.locator("#drugs summary").filter(has_text="Push doses").click()
        phone.pick("EPINEPHrine push dose")
        expect(phone.main).to_contain_text("Which route?")
        phone.main.click(force=True)
        expect(phone.page.locator('[name="route"]:focus')).to_have_count(1)
        phone.pick("IV")
        expect(phone.page.locator("[data-missing]")).to_have_count(0)
        expect(phone.page.locator('[name="said"][value="volume"]')).to_be_checked()  # a push goes by its volume
        for words, field in (("Which strength", "strength.value"), ("Which volume?", "volume.value")):
            expect(phone.main).to_contain_text(words)
            phone.main.click(force=True)
            expect(phone.page.locator(f'[name="{field}"]')).to_be_focused()
            phone.page.keyboard.type("3")
        expect(phone.main).to_contain_text("Unit of the strength?")


def test_what_is_not_ticked_yet_is_led_to(take: Take):
    phone = take(f"give/{PUSH}/")
    phone.pick("IV")
    phone.dose("10 mcg")
    expect(phone.main).to_contain_text("Check off the syringe or each step: 10 mcg")
    phone.main.click(force=True)

    expect(phone.page.locator('[name="step"]').first).to_be_focused()


def test_a_field_that_is_folded_away_is_opened(take: Take):
    phone = take("vitals/")
    more = phone.page.locator("summary").filter(has_text="More: alertness")
    more.click()
    phone.type(temp_c=99)
    more.click()
    phone.main.click(force=True)

    expect(phone.page.locator('[name="temp_c"]')).to_be_focused()
