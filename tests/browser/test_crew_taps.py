"""How many presses the crew's daily work costs, each figure entered once: our own goals, as no source counts them."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from consult.models import Vitals
from tests.browser.conftest import Take
from tests.browser.thumb import thumb_on


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

    def test_whoever_presses_next_from_habit_skips_no_field(self, take: Take):
        thumb = thumb_on(take, "vitals/")
        thumb.keys("88 52 128 93")
        expect(thumb.phone.page.locator("#to-send")).to_have_text("88/52 mmHg, HR 128, SpO2 93")

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

    def test_a_number_that_stands_there_is_not_typed_into(self, take: Take):
        """Who comes back to the systolic to mend it does not lengthen the diastolic."""
        thumb = thumb_on(take, "vitals/")
        thumb.keys("8852")
        thumb.on(thumb.phone.page.locator("[name=sbp]"))
        thumb.on(thumb.phone.page.locator('[data-key="erase"]'))
        thumb.keys("4")
        expect(thumb.phone.page.locator("[name=sbp]")).to_be_focused()
        expect(thumb.phone.page.locator("#to-send")).to_have_text("84/52 mmHg")
