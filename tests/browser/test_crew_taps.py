"""How many presses the crew's daily work costs, each figure entered once: our own goals, as no source counts them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import containers, notes
from consult.models import Intervention, Order, Vitals
from tests.browser.conftest import Take, Transport
from tests.browser.thumb import Thumb, thumb_on

PUSH, DRIP = "epinephrine-push-dose", "norepinephrine-infusion"


def in_hand(transport: Transport, treatment: str, strength: float, volume: float, form: str) -> None:
    """Mixed a quarter of an hour ago."""
    at = clock.now() - timedelta(minutes=15)
    made = {"treatment": treatment, "strength": {"value": strength, "unit": "mcg/mL"}, "form": form}
    data = {"id": uuid4(), "at": at, "volume": {"value": volume, "unit": "mL"}, **made}
    containers.record_container(transport.team.osk, transport.uid, data, clock.now())


def cannula(transport: Transport) -> None:
    now = clock.now()
    done: dict[str, Any] = {"procedure": "iv_access", "outcome": "done", "gauge": 18}
    notes.add_procedure(transport.team.osk, transport.uid, {"id": uuid4(), "at": now, **done}, now)


BOUNCED = """(key) => {
  const pressed = document.querySelector(`[data-key="${key}"]`);
  for (let times = 0; times < 2; times += 1) pressed.click();
}"""


class TestASetOfVitals:
    """From the page of the case: pressure, heart rate, saturation."""

    @pytest.mark.parametrize(
        ("keys", "sent"),
        [
            ("885212893", {"sbp": 88, "dbp": 52, "hr": 128, "spo2": 93}),
            ("1046011897", {"sbp": 104, "dbp": 60, "hr": 118, "spo2": 97}),
        ],
        ids=["a low pressure", "three digits"],
    )
    def test_takes_at_most_twelve(self, take: Take, keys: str, sent: dict[str, float]):
        thumb = thumb_on(take)
        thumb.main("Enter vitals")
        thumb.phone.ready()
        thumb.keys(keys)
        thumb.main("Send")
        expect(thumb.phone.outcome).to_contain_text("Sent")

        assert thumb.presses <= 12
        assert Vitals.objects.get().data.items() >= {**sent, "bp_method": "cuff"}.items()

    @pytest.mark.night
    def test_whoever_presses_next_from_habit_skips_no_field(self, take: Take):
        thumb = thumb_on(take, "vitals/")
        thumb.keys("88 52 128 93")
        expect(thumb.phone.page.locator("#to-send")).to_have_text("88/52 mmHg, HR 128, SpO2 93")

    @pytest.mark.night
    def test_erase_takes_back_the_last_digit_though_the_next_field_stands_ready(self, take: Take):
        thumb = thumb_on(take, "vitals/")
        thumb.keys("88")
        expect(thumb.phone.page.locator("[name=dbp]")).to_be_focused()
        thumb.on(thumb.phone.page.locator('[data-key="erase"]'))
        thumb.keys("652")
        expect(thumb.phone.page.locator("#to-send")).to_have_text("86/52 mmHg")

    def test_a_number_that_a_digit_more_could_still_be_waits_for_it(self, take: Take):
        thumb = thumb_on(take, "vitals/")
        thumb.keys("10")
        expect(thumb.phone.page.locator("[name=sbp]")).to_be_focused()
        thumb.phone.page.evaluate(BOUNCED, "8")
        expect(thumb.phone.page.locator("[name=dbp]")).to_be_focused()
        expect(thumb.phone.page.locator("[name=dbp]")).to_have_value("")
        thumb.keys("64")
        expect(thumb.phone.page.locator("#to-send")).to_have_text("108/64 mmHg")

    def test_a_digit_pressed_once_too_often_is_asked_before_the_set_goes(self, take: Take):
        """88, 3, 52: the diastolic would be 35, the heart rate 2."""
        thumb = thumb_on(take, "vitals/")
        thumb.keys("88352")
        thumb.phone.main.tap()
        asked = thumb.phone.page.locator(".dock [data-doubt]")
        expect(asked).to_contain_text("A digit too many? Look at each number.")
        for _ in range(3):
            thumb.on(thumb.phone.page.locator('[data-key="erase"]'))
        expect(asked).to_be_hidden()

    @pytest.mark.night
    def test_a_number_that_stands_there_is_not_typed_into(self, take: Take):
        """Who comes back to the systolic to mend it does not lengthen the diastolic."""
        thumb = thumb_on(take, "vitals/")
        thumb.keys("8852")
        thumb.on(thumb.phone.page.locator("[name=sbp]"))
        thumb.on(thumb.phone.page.locator('[data-key="erase"]'))
        thumb.keys("4")
        expect(thumb.phone.page.locator("[name=sbp]")).to_be_focused()
        expect(thumb.phone.page.locator("#to-send")).to_have_text("84/52 mmHg")


class TestAPushOnceMore:
    """From the page of the case, 5 min after the first, with a pressure since: 20 mcg of 10 mcg per mL are 2 mL."""

    @pytest.fixture
    def thumb(self, take: Take, transport: Transport) -> Thumb:
        transport.vitals(sbp=74, dbp=44, bp_method="cuff")
        in_hand(transport, PUSH, 10, 10, "syringe")
        transport.give(20, given_at=clock.now() - timedelta(minutes=5))
        transport.vitals(sbp=78, dbp=46, bp_method="cuff")
        return thumb_on(take)

    def test_takes_at_most_two(self, thumb: Thumb):
        thumb.link("Again: EPINEPHrine push dose 20 mcg")
        thumb.main("Given now: 20 mcg = 2 mL EPINEPHrine IV")
        expect(thumb.phone.outcome).to_contain_text("Sent")

        assert thumb.presses <= 2
        assert [dose.data["amount"]["value"] for dose in Intervention.objects.all()] == [20, 20]

    @pytest.mark.night
    def test_too_soon_it_is_held_all_the_same(self, thumb: Thumb):
        thumb.link("Again: EPINEPHrine push dose 20 mcg")
        thumb.main("Given now: 20 mcg = 2 mL EPINEPHrine IV")
        expect(thumb.phone.outcome).to_contain_text("Sent")
        thumb.phone.open()
        thumb.link("Again: EPINEPHrine push dose 20 mcg")

        expect(thumb.phone.main).to_contain_text("Not before")

    def test_of_a_syringe_that_is_newer_than_the_last_push_the_label_is_read(self, thumb: Thumb, transport: Transport):
        in_hand(transport, PUSH, 10, 10, "syringe")
        thumb.phone.open()
        thumb.link("Again: EPINEPHrine push dose 20 mcg")

        expect(thumb.phone.main).to_contain_text("Check off which syringe")


WORDS = 1  # what a physician said with an order is read back besides, and checked off


class TestAnInfusion:
    """0.05 mcg/kg/min, as it starts, are asked for; 0.225 of 16 mcg per mL are ordered: 18 mcg/min, 67.5 mL/h."""

    @pytest.fixture
    def thumb(self, take: Take, transport: Transport) -> Thumb:
        transport.vitals(sbp=74, dbp=44, bp_method="cuff")
        cannula(transport)
        return thumb_on(take)

    def ask(self, thumb: Thumb) -> int:
        thumb.link("Give")
        thumb.link("norepinephrine infusion")
        thumb.pick("0.05 mcg/kg/min")
        thumb.pick("Pressure still low")
        thumb.main("Request 0.05 mcg/kg/min")
        expect(thumb.phone.outcome).to_contain_text("Sent")
        return thumb.presses

    def decide(self, transport: Transport) -> None:
        order = str(Order.objects.get().uid)
        amount = {"value": 0.225, "unit": "mcg/kg/min"}
        transport.decide(order, transport.team.merrin, decision="change", amount=amount, reason="bleeding stopped")

    def read_back(self, thumb: Thumb) -> int:
        thumb.link("Read it back")
        thumb.pick("16 mcg per mL")
        thumb.pick("IV")
        thumb.keys("67.5")
        thumb.phone.page.locator(".recipe label", has_text="These words were read back, too").tap()
        thumb.main("Send the read-back")
        expect(thumb.phone.outcome).to_contain_text("Read-back matches the order")
        return thumb.presses

    def test_is_asked_for_by_at_most_five(self, thumb: Thumb):
        assert self.ask(thumb) <= 5
        order = Order.objects.get()
        assert (order.data["route"], order.data["amount"]["value"]) == ("IV", 0.05)

    @pytest.mark.parametrize("recorded", [True, False], ids=["its bag recorded", "nothing recorded"])
    def test_the_whole_loop_takes_at_most_sixteen_and_its_read_back_eight(
        self, thumb: Thumb, transport: Transport, recorded: bool
    ):
        if recorded:
            in_hand(transport, DRIP, 16, 250, "bag")
        presses = [self.ask(thumb)]
        self.decide(transport)
        presses.append(self.read_back(thumb))
        assert presses[-1] <= 8 + WORDS
        thumb.link("Open the page to start 67.5 mL/h")
        thumb.main("Started now: 0.225 mcg/kg/min = 67.5 mL/h norepinephrine IV")
        expect(thumb.phone.outcome).to_contain_text("Sent")
        presses.append(thumb.presses)

        assert sum(presses) <= 16
        started, order = Intervention.objects.get().data, Order.objects.get()
        assert (started["amount"]["value"], started["order"]) == (0.225, str(order.uid))
        assert order.state in ("read_back", "given")
