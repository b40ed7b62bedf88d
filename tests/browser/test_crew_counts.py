"""The page for giving counts what this phone has given, with and without a link; the syringe in hand; hard limits."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import containers
from consult.models import Intervention
from tests.browser.conftest import Take, Transport
from tests.browser.crew_phone import Phone

PUSH = "epinephrine-push-dose"


@pytest.fixture
def pressure_before() -> dict[str, float]:
    return {"sbp": 74, "dbp": 44}


def mix(transport: Transport, volume: float = 10) -> None:
    """The push-dose syringe, mixed and recorded before any dose."""
    now = clock.now()
    strength = {"value": 10, "unit": "mcg/mL"}
    syringe = {"treatment": PUSH, "form": "syringe", "strength": strength, "volume": {"value": volume, "unit": "mL"}}
    made = {"id": uuid4(), "at": now - timedelta(minutes=9), "mixed_by": "Osk", **syringe}
    containers.record_container(transport.team.osk, transport.uid, made, now)


def choose(phone: Phone, dose: str) -> None:
    phone.pick("IV")
    phone.dose(dose)
    for step in phone.page.locator(".recipe").first.locator("input").all():
        step.check()


def give(phone: Phone, dose: str) -> None:
    choose(phone, dose)
    expect(phone.main).to_contain_text("Given now")
    phone.main.click()
    expect(phone.outcome).to_be_visible()


def again(phone: Phone) -> None:
    phone.page.get_by_role("button", name="Another dose").click()


class TestWithoutALink:
    @pytest.fixture
    def phone(self, take: Take, transport: Transport) -> Phone:
        transport.vitals(sbp=74, dbp=44, bp_method="cuff")
        mix(transport)
        phone = take(f"give/{PUSH}/")
        phone.cut()
        return phone

    def test_a_second_push_is_held_until_the_interval_has_passed(self, phone: Phone):
        give(phone, "10 mcg")
        again(phone)
        choose(phone, "10 mcg")

        expect(phone.main).to_contain_text("Not before")
        expect(phone.main).to_have_attribute("aria-disabled", "true")

    def test_what_a_dose_asks_for_stands_until_a_reading_in_its_time(self, phone: Phone):
        """The rules ask for a pressure 2 min after a push; one counts from a minute after it on."""
        give(phone, "10 mcg")
        due = phone.page.locator(".due")
        expect(due).to_be_in_viewport(ratio=1)  # beside what was kept
        phone.open()
        expect(due).to_contain_text("Reassess: pressure")
        expect(due).to_contain_text("after EPINEPHrine push dose · this phone")
        expect(due.locator(".due-time")).to_have_text(re.compile(r"^in 1:[345]\d$"))
        phone.open("vitals/").type(sbp=84, dbp=50)
        phone.main.click()
        expect(phone.outcome).to_contain_text("Kept on this phone")
        expect(phone.open("give/").page.locator(".due")).to_contain_text("Reassess: pressure")
        phone.mend()

        expect(phone.link).to_have_text("All sent")
        expect(due).to_have_text(re.compile("^Reassess: pressureafter EPINEPHrine push doseAlso look at .*"))

    @pytest.mark.night
    def test_it_is_held_after_a_reload_too(self, phone: Phone):
        give(phone, "10 mcg")
        phone.page.reload()
        phone.ready()
        choose(phone, "10 mcg")

        expect(phone.main).to_contain_text("Not before")

    def test_count_total_and_what_is_in_the_syringe_go_down(self, phone: Phone):
        left = phone.page.locator("#left-text")
        expect(left).to_have_text("5 of 5 left, 100 mcg left in all")
        give(phone, "20 mcg")
        expect(phone.outcome).to_contain_text("Given: EPINEPHrine push dose 20 mcg = 2 mL, IV")
        expect(left).to_have_text("4 of 5 left, 80 mcg left in all, with 1 dose from this phone")
        again(phone)
        choose(phone, "20 mcg")
        expect(phone.page.locator("#syringe-words")).to_have_text("10 mL syringe in hand: push 2 mL, from 8 to 6")
        expect(phone.page.locator("[data-held]")).to_contain_text("8 mL left · this phone")
        phone.page.get_by_text("Already given: record it").click()
        phone.main.click()

        expect(left).to_have_text("3 of 5 left, 60 mcg left in all, with 2 doses from this phone")
        held = phone.open().page.locator('[data-part="in-hand"]')
        expect(held).to_contain_text("6 mL left: 3 doses of 20 mcg · this phone")
        phone.mend()
        expect(phone.link).to_have_text("All sent")
        expect(held).to_contain_text(re.compile("6 mL left: 3 doses of 20 mcg(?! ·)"))

    @pytest.mark.night
    def test_after_the_last_one_it_needs_an_order(self, take: Take, transport: Transport):
        """Three of the five are the server's, two are this phone's."""
        mix(transport)
        for minutes in (40, 30, 20):
            transport.give(10, given_at=clock.now() - timedelta(minutes=minutes))
        phone = take(f"give/{PUSH}/")
        phone.cut()
        phone.page.get_by_text("Already given: record it").click()
        for _ in range(2):
            phone.page.locator("#already").evaluate("details => { details.open = true; }")
            phone.pick("IV")
            phone.dose("10 mcg")
            phone.pick("10 min ago")
            expect(phone.main).to_contain_text("Record as given")
            phone.sure()
            again(phone)
        choose(phone, "10 mcg")

        expect(phone.main).to_contain_text("Needs an order: all 5 given")

    def test_above_the_standing_most_it_needs_an_order(self, phone: Phone):
        phone.pick("IV")
        phone.pick("Other")
        phone.type(**{"amount.value": 30})
        phone.pick("mcg")

        expect(phone.page.locator("#findings")).to_contain_text("Not checked: offline")
        expect(phone.main).to_contain_text("Needs an order: above 20 mcg")

    @pytest.mark.night
    def test_once_all_is_sent_the_servers_count_stands_again(self, phone: Phone):
        give(phone, "20 mcg")
        phone.mend()

        expect(phone.link).to_have_text("All sent")
        expect(phone.page.locator("#left-text")).to_have_text("4 of 5 left, 80 mcg left in all")

    def test_more_than_is_left_in_the_syringe_is_held(self, phone: Phone, transport: Transport):
        mix(transport, volume=1)
        phone.open(f"give/{PUSH}/")
        choose(phone, "20 mcg")

        expect(phone.main).to_contain_text("Only 1 mL is left in the 1 mL syringe in hand")


class TestWithALink:
    @pytest.mark.night
    def test_the_syringe_in_hand_is_drawn_at_its_size_from_what_is_left(self, take: Take, transport: Transport):
        transport.vitals(sbp=74, dbp=44, bp_method="cuff")
        mix(transport)
        _given(transport, minutes=5)
        transport.vitals(sbp=76, dbp=46, bp_method="cuff")
        phone = take(f"give/{PUSH}/")
        choose(phone, "20 mcg")

        words = "10 mL syringe in hand: push 2 mL, from 9 to 7"
        expect(phone.page.locator("#syringe-words")).to_have_text(words)
        expect(phone.page.locator("#syringe")).to_have_attribute("aria-label", words)
        assert phone.page.locator("#syringe text").all_text_contents() == ["0", "5", "10", "to 7", "from 9"]

    @pytest.mark.night
    def test_of_a_prefilled_one_that_nobody_recorded_what_was_given_is_gone(self, take: Take, transport: Transport):
        """With and without a link; one that is mixed for this dose is full."""
        _given(transport, minutes=5)
        transport.vitals(sbp=76, dbp=46, bp_method="cuff")
        phone = take(f"give/{PUSH}/")
        words = phone.page.locator("#syringe-words")
        phone.pick("IV")
        phone.dose("20 mcg")
        phone.page.get_by_label("First, where stocked").check()
        expect(words).to_have_text("10 mL syringe begun before: push 2 mL, from 9 to 7. A new one: from 10")
        expect(phone.main).to_contain_text("Given now")
        phone.cut()
        phone.main.click()
        expect(phone.outcome).to_be_visible()
        again(phone)
        phone.dose("20 mcg")
        expect(words).to_have_text("10 mL syringe begun before: push 2 mL, from 7 to 5. A new one: from 10")

        for step in phone.page.locator("ol.recipe").first.locator("input").all():
            step.check()
        expect(words).to_have_text("10 mL syringe in hand: push 2 mL, from 10 to 8")

    @pytest.mark.night
    def test_no_number_of_the_drawing_is_cut_in_a_wide_font(self, take: Take):
        assert take(f"give/{PUSH}/").page.evaluate(CUT) == []

    def test_a_check_tells_when_and_with_which_pressure_and_is_made_anew(self, take: Take, transport: Transport):
        transport.vitals(sbp=74, dbp=44, bp_method="cuff")
        phone = take(f"give/{PUSH}/")
        phone.pick("IV")
        phone.dose("10 mcg")
        made = phone.page.locator(".made-with")
        expect(made).to_have_text(re.compile(r"checked \d\d:\d\d:\d\d with MAP 54$"))

        transport.vitals(sbp=120, dbp=80, bp_method="cuff")

        expect(made).to_have_text(re.compile(r"checked \d\d:\d\d:\d\d with MAP 93$"))
        expect(phone.page.locator("#findings")).to_contain_text("goal")

    def test_an_answer_to_another_dose_is_dropped(self, take: Take, transport: Transport):
        """The first answer is kept back until the second dose was answered."""
        transport.vitals(sbp=74, dbp=44, bp_method="cuff")
        phone = take(f"give/{PUSH}/")
        kept: list[Any] = []
        phone.page.context.route("**/checks/", lambda route: kept.append(route), times=1)
        phone.pick("IV")
        with phone.page.expect_request("**/checks/"):
            phone.dose("20 mcg")
        phone.dose("10 mcg")
        expect(phone.page.locator("#dose-volume")).to_have_text("= 1 mL")
        with phone.page.expect_response("**/checks/"):
            kept[0].continue_()

        expect(phone.page.locator("#dose-amount")).to_have_text("10 mcg")
        expect(phone.page.locator("#dose-volume")).to_have_text("= 1 mL")


class TestOverAHardLimit:
    @pytest.fixture
    def phone(self, take: Take, transport: Transport) -> Phone:
        transport.vitals(sbp=74, dbp=44, bp_method="cuff")
        phone = take(f"give/{PUSH}/")
        phone.pick("IV")
        phone.pick("Other")
        phone.type(**{"amount.value": 300})
        phone.pick("mcg")
        return phone

    def test_recording_wants_another_press_elsewhere_that_names_the_limit(self, phone: Phone):
        phone.page.get_by_text("Already given: record it").click()
        expect(phone.main).to_contain_text("Over a hard limit: confirm it above")
        phone.main.click(force=True)
        assert Intervention.objects.count() == 0
        asked = phone.page.locator("[data-beyond]")
        expect(asked).to_contain_text("100 mcg")
        asked.get_by_role("button", name=re.compile("^I am sure: it was 300 mcg")).click()
        expect(phone.main).to_contain_text("Record as given: 300 mcg")
        phone.main.click()

        expect(phone.outcome).to_contain_text("Sent")
        assert Intervention.objects.get().data["amount"] == {"value": 300, "unit": "mcg"}

    @pytest.mark.night
    def test_what_was_confirmed_holds_for_that_dose_alone(self, phone: Phone):
        phone.page.get_by_text("Already given: record it").click()
        phone.page.locator("[data-beyond] button").click()
        phone.type(**{"amount.value": 400})

        expect(phone.main).to_contain_text("Over a hard limit: confirm it above")
        expect(phone.page.locator("[data-beyond]")).to_contain_text("400 mcg")

    def test_nothing_asks_before_it_was_given(self, phone: Phone):
        expect(phone.main).to_contain_text("Over a hard limit")
        expect(phone.page.locator("[data-beyond]")).to_be_hidden()


def _given(transport: Transport, minutes: float) -> None:
    from consult.actions import interventions

    dose = {"treatment": PUSH, "amount": {"value": 10, "unit": "mcg"}, "route": "IV"}
    at = clock.now() - timedelta(minutes=minutes)
    interventions.record_intervention(
        transport.team.osk, transport.uid, {"id": uuid4(), "given_at": at, **dose}, clock.now()
    )


CUT = """async () => {
  const { drawSyringe } = await import("/static/crew/syringe.js");
  const svg = document.getElementById("syringe"), cut = [];
  for (const [size, left, volume] of [[1, 0.95, 0.05], [10, 10, 2], [60, 58.75, 1.25], [17.25, 17.25, 1.5]]) {
    for (const spacing of ["normal", "0.12em"]) {
      svg.style.letterSpacing = spacing;
      drawSyringe(svg, { value: volume }, { size, left, reads: null }, null);
      const edge = svg.getBoundingClientRect();
      for (const text of svg.querySelectorAll("text")) {
        const { left, right } = text.getBoundingClientRect();
        if (right > edge.right || left < edge.left) cut.push([size, spacing, text.textContent]);
      }
    }
  }
  return cut;
}"""


COUNTED_TWICE_FOR_A_MOMENT = """async () => {
  document.body.innerHTML = '<p id="left-text">4 of 5 left, 90 mcg left in all</p>'
    + '<script id="standing" type="application/json">'
    + '{"seq": 7, "left": {"count": 4, "of": 5, "total": {"value": 90, "unit": "mcg"}}}</' + 'script>';
  const { Standing } = await import("/static/crew/standing.js");
  const data = { treatment: "push", amount: { value: 10, unit: "mcg" } };
  const dose = { id: "d", kind: "intervention", data, seq: null };
  const queue = Object.assign(new EventTarget(), { entered: async () => [dose] });
  const standing = new Standing(queue, "push", () => undefined);
  await standing.renew();
  const before = document.getElementById("left-text").textContent;
  dose.seq = 7;
  await standing.renew();
  return [before, document.getElementById("left-text").textContent];
}"""


def test_once_the_answer_for_a_dose_is_here_what_the_server_told_holds_again(take: Take):
    """The server's page may hold a dose before its answer has come: for that moment it is counted twice."""
    before, after = take("vitals/").page.evaluate(COUNTED_TWICE_FOR_A_MOMENT)

    assert before == "3 of 5 left, 80 mcg left in all, with 1 dose from this phone"
    assert after == "4 of 5 left, 90 mcg left in all"
