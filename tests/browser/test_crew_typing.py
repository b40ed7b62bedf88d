"""Typing vitals with gloves: each set begins at its first field, the keys stand still, every value sent is named."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import interventions
from consult.models import Vitals
from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone

Take = Callable[..., Phone]
COUNTDOWN = re.compile(r"^[01]:\d\d$")
SIZES = ((390, 844), (360, 640))
EVERYTHING = {
    "hr": "128", "spo2": "92", "map_reported": "54", "rr": "24", "etco2": "30", "cap_refill_s": "4", "gcs": "14",
    "temp_c": "38.9", "glucose_mg_dl": "110", "lactate_mmol_l": "3.1", "hb_g_dl": "9", "oxygen_l_min": "15",
}  # fmt: skip


@pytest.fixture
def take(sign_in: SignIn, transport: Transport) -> Take:
    """Take the phone in hand on the page for vitals."""

    def taken(**how: Any) -> Phone:
        page = sign_in("osk", f"/crew/{transport.uid}/vitals/", **{**PHONE, **how})
        page.wait_for_url("**/crew/**")
        return Phone(page, str(transport.uid)).ready()

    return taken


def press(phone: Phone, keys: str) -> None:
    """Press number keys one after the other; a blank is the key that leads to the next field.

    A thumb does not scroll the page to reach them, as a click of the browser's driver does.
    """
    for key in keys:
        phone.page.locator(f'[data-key="{"next" if key == " " else key}"]').dispatch_event("click")


class TestAPointAmongTheKeys:
    @pytest.mark.parametrize(("name", "keys"), [("temp_c", "38.9"), ("lactate_mmol_l", "3.1"), ("hb_g_dl", "9.5")])
    def test_stands_where_a_decimal_is_meant(self, take: Take, name: str, keys: str):
        phone = take()
        point = phone.page.get_by_role("button", name="Decimal point")
        expect(point).to_have_count(0)
        phone.page.locator("summary").filter(has_text="More: alertness").click()
        field = phone.page.locator(f'input[name="{name}"]')
        field.focus()

        expect(point).to_be_visible()
        press(phone, keys)
        expect(field).to_have_value(keys)
        phone.page.locator('input[name="hr"]').focus()
        expect(point).to_have_count(0)
        press(phone, "8 ")
        expect(phone.page.locator('input[name="spo2"]')).to_be_focused()

    @pytest.mark.night
    def test_and_for_a_glucose_in_mmol_per_l(self, take: Take):
        phone = take()
        phone.page.locator("summary").filter(has_text="More: alertness").click()
        phone.page.locator('[data-in-other-unit="glucose_mg_dl"]').click()
        press(phone, "4.2")

        expect(phone.page.locator('input[name="glucose_mmol_l"]')).to_have_value("4.2")


class TestTwoSetsInARow:
    @pytest.fixture(params=["with a link", "without a link"])
    def phone(self, take: Take, request: Any) -> Phone:
        phone = take()
        if request.param == "without a link":
            phone.cut()
        return phone

    def test_the_second_begins_at_its_first_field(self, phone: Phone):
        phone.pick("Cuff")
        press(phone, "74 44 128 92")
        phone.main.click()
        expect(phone.outcome).to_contain_text("74/44 mmHg, HR 128, SpO2 92")
        phone.page.get_by_role("button", name="Another reading").click()

        expect(phone.page.locator('input[name="sbp"]')).to_be_focused()
        phone.pick("Cuff")
        press(phone, "82 50")
        phone.main.click()
        expect(phone.outcome).to_contain_text("82/50 mmHg")
        phone.mend()

        expect(phone.link).to_have_text("All sent")
        sets = [row.data for row in Vitals.objects.order_by("seq")]
        assert [(each["sbp"], each["dbp"], each.get("hr"), each.get("spo2")) for each in sets] == [
            (74, 44, 128, 92),
            (82, 50, None, None),
        ]

    @pytest.mark.night
    def test_after_none_obtainable_the_next_set_begins_at_the_systolic_too(self, phone: Phone):
        phone.pick("Unobtainable")
        phone.main.click()
        phone.page.get_by_role("button", name="Another reading").click()

        expect(phone.page.locator('input[name="sbp"]')).to_be_focused()
        phone.pick("Palpated")
        press(phone, "60")
        expect(phone.main).to_contain_text("Send 60/P mmHg")


class TestTheKeysStandStill:
    @pytest.mark.parametrize("size", SIZES)
    def test_while_a_full_set_is_typed(self, take: Take, size: tuple[int, int]):
        phone = take(size=size)
        five = phone.page.locator('[data-key="5"]')
        places = [five.bounding_box()]
        phone.page.locator("summary").filter(has_text="More: alertness").click()
        phone.pick("Cuff")
        for name, value in {"sbp": "74", "dbp": "44", **EVERYTHING}.items():
            phone.page.locator(f'input[name="{name}"]').fill(value)
            places.append(five.bounding_box())

        assert places == [places[0]] * len(places)

    @pytest.mark.parametrize("size", SIZES)
    @pytest.mark.night
    def test_and_so_do_the_fields_when_a_line_says_that_something_high_stands(
        self, take: Take, transport: Transport, size: tuple[int, int]
    ):
        phone = take(size=size)
        phone.pick("Cuff")
        press(phone, "8")
        seen = ('[data-key="5"]', 'label.box:has([name="sbp"])', "#entry .now", "header.patient")
        places = [_box(phone, each) for each in seen]
        transport.vitals(sbp=62, dbp=38, bp_method="cuff")

        expect(phone.page.locator(".high-line")).to_contain_text("High: MAP critical, goal 65")
        assert [_box(phone, each) for each in seen] == places
        expect(phone.page.locator('[name="sbp"]')).to_be_focused()

    @pytest.mark.parametrize("size", SIZES)
    @pytest.mark.night
    def test_each_number_can_be_seen_while_it_is_typed(self, take: Take, size: tuple[int, int]):
        phone = take(size=size)
        phone.pick("Cuff")
        for name, keys in (("sbp", "7"), ("dbp", " 4"), ("hr", " 1"), ("spo2", " 9"), ("map_reported", " 5")):
            press(phone, keys)
            below, field, dock = (
                _box(phone, place) for place in ("#entry .now", f'label.box:has([name="{name}"])', ".dock")
            )

            assert below["y"] + below["height"] <= field["y"], name
            assert field["y"] + field["height"] <= dock["y"], name

    def test_two_rows_of_fields_stand_above_the_keys_when_the_page_opens(self, take: Take):
        phone = take(size=(390, 844))
        dock = _box(phone, ".dock")
        for name in ("sbp", "spo2", "map_reported", "cap_refill_s"):
            field = _box(phone, f'label.box:has([name="{name}"])')
            assert field["y"] + field["height"] <= dock["y"], name

    @pytest.mark.parametrize("size", SIZES)
    def test_the_button_is_one_line_however_much_is_typed(self, take: Take, size: tuple[int, int]):
        phone = take(size=size)
        phone.pick("Cuff")
        lines = set()
        for name, value in {"sbp": "74", "dbp": "44", **EVERYTHING}.items():
            if name == "gcs":
                phone.page.locator("summary").filter(has_text="More: alertness").click()
            phone.page.locator(f'input[name="{name}"]').fill(value)
            lines.add(phone.page.locator(".big-label").evaluate(LINES))

        assert lines == {1}

    @pytest.mark.night
    def test_the_readback_keys_stand_still_when_the_button_has_more_to_say(self, take: Take, transport: Transport):
        order = transport.ask(30)
        transport.decide(order, transport.team.merrin, decision="approve")
        phone = take().open(f"orders/{order}/readback/")
        phone.pick("Dose")
        expect(phone.page.locator('[data-key="5"]')).to_be_visible()
        before = phone.page.locator('[data-key="5"]').bounding_box()
        phone.page.locator("#drugs summary").filter(has_text="Push doses").click()
        phone.pick("EPINEPHrine push dose")
        phone.pick("IV")
        phone.type(**{"amount.value": 30})
        phone.pick("mcg")

        expect(phone.main).to_contain_text("Send the read-back: EPINEPHrine push dose")
        assert phone.page.locator('[data-key="5"]').bounding_box() == before


LINES = """(label) => {
  const words = document.createRange();
  words.selectNodeContents(label);
  return new Set([...words.getClientRects()].map(({ top }) => Math.round(top))).size;
}"""


def _box(phone: Phone, place: str) -> Any:
    return phone.page.locator(place).bounding_box()


class TestEveryValueIsNamed:
    def test_a_single_one_stands_on_the_button_and_in_the_receipt(self, take: Take):
        phone = take()
        phone.page.locator("summary").filter(has_text="More: alertness").click()
        phone.type(glucose_mg_dl=38)
        expect(phone.main).to_contain_text("Send glucose 38 mg/dL")
        phone.pick("Crackles")

        expect(phone.page.locator("#to-send")).to_have_text("lungs crackles, glucose 38 mg/dL")
        phone.main.click()
        expect(phone.outcome).to_contain_text("lungs crackles, glucose 38 mg/dL")

    @pytest.mark.night
    def test_what_the_button_has_no_room_for_stands_above_it(self, take: Take):
        phone = take()
        phone.page.locator("summary").filter(has_text="More: alertness").click()
        phone.pick("Cuff")
        phone.type(sbp=74, dbp=44, **{name: float(value) for name, value in EVERYTHING.items()})
        phone.pick("Crackles")

        expect(phone.main).to_contain_text("Send the 15 values above")
        for value in ("74/44 mmHg", "HR 128", "SpO2 92", "refill 4 s", "glucose 110 mg/dL", "lungs crackles"):
            expect(phone.page.locator("#to-send")).to_contain_text(value)
        expect(phone.main).to_have_accessible_description(re.compile("glucose 110 mg/dL, lactate"))

    @pytest.mark.night
    def test_a_set_taken_earlier_says_so(self, take: Take):
        phone = take()
        phone.type(hr=128)
        phone.page.locator("summary").filter(has_text="Taken earlier").click()
        phone.pick("5 min ago")

        expect(phone.page.locator("#to-send")).to_have_text(re.compile(r"^HR 128, taken 5 min ago, at \d\d:\d\d$"))
        phone.sure()
        expect(phone.outcome).to_contain_text("HR 128, taken 5 min ago, at")


class TestAReadingTooEarly:
    @pytest.fixture
    def phone(self, take: Take, transport: Transport) -> Phone:
        transport.vitals(sbp=74, dbp=44, bp_method="cuff")
        transport.give(10)
        return take()

    def test_the_page_says_from_when_a_pressure_counts(self, phone: Phone):
        early = phone.page.locator(".early")

        expect(early).to_be_visible()
        expect(early).to_contain_text("counts from")
        expect(early.locator("[data-due]")).to_have_text(COUNTDOWN)

    def test_the_receipt_says_that_it_did_not_count(self, phone: Phone):
        phone.pick("Cuff")
        phone.type(sbp=82, dbp=50)
        phone.main.click()

        expect(phone.outcome).to_contain_text("too early for the reassessment: that counts from")

    @pytest.mark.night
    def test_nothing_is_said_once_it_counts(self, take: Take, transport: Transport):
        given_at = clock.now() - timedelta(minutes=1)
        _given(transport, given_at)
        phone = take()
        expect(phone.page.locator("[data-counts-from]")).to_be_hidden()
        phone.type(hr=120)
        phone.main.click()

        expect(phone.outcome).to_contain_text("Sent")
        expect(phone.outcome).not_to_contain_text("too early")


def _given(transport: Transport, at: Any) -> None:
    from uuid import uuid4

    dose = {"treatment": "epinephrine-push-dose", "amount": {"value": 10, "unit": "mcg"}, "route": "IV"}
    interventions.record_intervention(
        transport.team.osk, transport.uid, {"id": uuid4(), "given_at": at, **dose}, clock.now()
    )
