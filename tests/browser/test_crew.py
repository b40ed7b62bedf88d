"""The crew's pages in a browser: the pressure while it is typed, doses, read-back, the same walls for all."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.models import Case, Intervention, Order, Vitals
from consult.screens.crew_case import preview_limits
from dosing.ground.facts import Age, Facts, Patient, Reading
from dosing.load import reader
from dosing.patient.pressure import goal_for, judge, limits_for
from tests.browser.axe import WITHOUT_TARGETS, serious_faults
from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone
from tests.depth import thinned
from tests.dosing.pressure_values import pairs

Take = Callable[..., Phone]
PAGES = [
    "",
    "vitals/",
    "give/",
    "give/epinephrine-push-dose/",
    "give/norepinephrine-infusion/",
    "orders/",
    "orders/request/",
    "orders/request/?treatment=crystalloid-bolus",
    "note/",
    "procedure/",
    "patient/",
    "correction/",
    "handover/",
]


@pytest.fixture
def take(sign_in: SignIn, transport: Transport) -> Take:
    """Take the phone in hand on a page of the open case."""

    def taken(path: str = "", **how: Any) -> Phone:
        page = sign_in("osk", f"/crew/{transport.uid}/{path}", **{**PHONE, **how})
        page.wait_for_url("**/crew/**")
        phone = Phone(page, str(transport.uid))
        return phone.open(path) if "?" in path else phone.ready()

    return taken


# Typed pressures of an adult: the large number, the state, the goal (published values MAP-013 and MAP-015).
TYPED = (
    (96, 49, "64.7", "Below goal", "goal 65, short by 0.3"),
    (95, 50, "65", "At goal", "goal 65"),
    (74, 44, "54", "Critical", "goal 65, short by 11"),
    (82, 58, "82", "Below goal", "MAP 66 · SBP goal 90, short by 8"),
    (120, 80, "93", "At goal 80–100", "goal 65"),
)


class TestTyping:
    def test_the_pressure_is_judged_at_once(self, take: Take):
        phone = take("vitals/")
        phone.pick("Cuff")

        for sbp, dbp, lead, word, goal in TYPED:
            phone.type(sbp=sbp, dbp=dbp)
            expect(phone.page.locator("#now-value")).to_have_text(lead)
            expect(phone.page.locator("#now-state")).to_have_text(word)
            expect(phone.page.locator("#now-goal")).to_have_text(goal)

    def test_it_is_judged_without_a_link_too(self, take: Take):
        phone = take("vitals/")
        phone.cut()
        phone.pick("Cuff")
        phone.type(sbp=96, dbp=49)

        expect(phone.page.locator("#now-value")).to_have_text("64.7")

    def test_a_palpated_pressure_shows_unknown_and_takes_no_diastolic(self, take: Take):
        phone = take("vitals/")
        phone.pick("Palpated")
        phone.type(sbp=92)

        expect(phone.page.locator("#now-value")).to_have_text("unknown")
        expect(phone.page.locator('input[name="dbp"]')).to_be_disabled()
        expect(phone.main).to_contain_text("Send 92/P mmHg")

    @pytest.mark.night
    def test_none_obtainable_is_an_entry_like_any_other(self, take: Take):
        phone = take("vitals/")
        phone.pick("Unobtainable")
        phone.pick("Carotid")
        phone.main.click()

        expect(phone.outcome).to_contain_text("Sent")
        sent = Vitals.objects.get().data
        assert (sent["bp_method"], sent["pulses"]) == ("unobtainable", "carotid")
        assert "sbp" not in sent

    def test_the_keys_type_and_lead_to_the_next_field(self, take: Take):
        phone = take("vitals/")
        phone.pick("Cuff")
        for key in ("7", "4", "next", "4", "5", "erase", "4"):
            phone.page.locator(f'[data-key="{key}"]').click()

        assert phone.page.locator('input[name="sbp"]').input_value() == "74"
        assert phone.page.locator('input[name="dbp"]').input_value() == "44"

    def test_the_mean_is_the_published_one(self, take: Take):
        rows = [row.values for row in pairs()]

        means = take("vitals/").page.evaluate(MEANS, [[sbp, dbp] for sbp, dbp, _ in rows])

        assert means == pytest.approx([expected for _, _, expected in rows], abs=0.01)

    def test_the_preview_says_what_the_server_will_say(self, take: Take):
        """Every pressure of a grid, by cuff, palpation and with a monitor's MAP, at four ages, with a head injury."""
        rules, readings, page = reader.load_shipped("demonstration"), list(_grid()), take("vitals/").page

        well = [Patient(age=age) for age in (None, Age(5, "years"), Age(8, "months"), Age(10, "days"))]
        hurt = [Patient(age=age, injuries=("head",)) for age in (None, Age(6, "years"))]
        for patient in (*well, *hurt):
            goal = goal_for(Facts(patient=patient, opened_at=clock.now()), rules)
            previews = page.evaluate(PREVIEWS, [readings, _limits(patient, goal, rules)])
            for reading, shown in zip(readings, previews, strict=True):
                told = judge(Reading(taken_at=clock.now(), **reading), patient, goal, rules)
                assert told.pressure is not None
                assert shown["state"] == told.pressure.state, (patient, reading)
                if told.map_shown:
                    assert told.map_shown in (shown["lead"], shown["beside"].removeprefix("MAP ")), (patient, reading)


MEANS = """async (pairs) => {
  const { meanPressure } = await import("/static/crew/pressure.js");
  return pairs.map(([sbp, dbp]) => meanPressure(sbp, dbp));
}"""
PREVIEWS = """async ([readings, limits]) => {
  const { preview } = await import("/static/crew/pressure.js");
  return readings.map((reading) => preview(reading, limits));
}"""


def _grid() -> Any:
    for sbp in range(40, 190, 7):
        yield {"sbp": sbp, "bp_method": "palpated"}
        for dbp in range(20, sbp, 9):
            yield {"sbp": sbp, "dbp": dbp, "bp_method": "cuff"}
            yield {"sbp": sbp, "dbp": dbp, "bp_method": "cuff", "map_reported": (sbp + dbp) // 2 - 9}
            yield {"sbp": sbp, "dbp": dbp, "bp_method": "arterial", "map_reported": (sbp + dbp) // 2}


def _limits(patient: Patient, goal: Any, rules: Any) -> dict[str, Any]:
    limits = limits_for(patient, goal, rules)
    return {
        "adult": limits.adult,
        "map": {"floor": float(limits.map_floor), "critical": float(limits.map_critical)},
        "sbp": {"floor": float(limits.sbp_floor), "critical": float(limits.sbp_critical)},
        "usual": [float(each) for each in limits.usual] if limits.usual else None,
    }


@pytest.mark.night
def test_the_page_brings_the_limits_of_its_own_patient(take: Take, transport: Transport):
    page = take("vitals/").page

    brought = page.evaluate("JSON.parse(document.getElementById('limits').textContent)")

    assert brought == preview_limits(Case.objects.get(uid=transport.uid))


class TestOpening:
    def test_a_case_needs_age_and_weight_or_that_they_are_unknown(self, take: Take):
        phone = take()
        phone.page.goto(phone.page.url.split("/crew/")[0] + "/crew/open/")
        phone.ready()
        expect(phone.main).to_contain_text("Age and weight first")
        phone.type(**{"patient.age.value": 18})
        expect(phone.main).to_contain_text("Age in years, months or days?")
        phone.pick("months")
        phone.pick("Weight unknown")
        phone.pick("Hypovolemic")
        phone.main.click()

        expect(phone.outcome).to_contain_text("Sent")
        opened = Case.objects.order_by("pk").last()
        assert opened is not None
        assert opened.patient["age"]["unit"] == "months"
        assert (opened.patient["weight"], opened.impression) == (None, "hypovolemic")
        phone.page.get_by_role("link", name="To the patient").click()
        expect(phone.page).to_have_url(re.compile(f"/crew/{opened.uid}/$"))

    def test_a_handover_takes_the_case_off_the_list(self, take: Take, transport: Transport):
        phone = take("handover/")
        phone.page.get_by_label("Patient handed over to").fill("Marrowby General, Dr. Ness")
        phone.sure("Press again: handed over, the case ends")

        expect(phone.outcome).to_contain_text("Sent")
        assert Case.objects.get(uid=transport.uid).state == "handed_over"
        phone.page.get_by_role("link", name="Back to your cases").click()
        expect(phone.page.locator("main")).to_contain_text("No open case")


class TestGive:
    @pytest.fixture
    def phone(self, take: Take, transport: Transport) -> Phone:
        transport.vitals(sbp=74, dbp=44, bp_method="cuff")
        return take("give/epinephrine-push-dose/")

    def test_the_dose_leads_and_its_volume_stands_beside_it(self, phone: Phone):
        phone.pick("IV")
        phone.dose("10 mcg")

        expect(phone.page.locator("#dose-amount")).to_have_text("10 mcg")
        expect(phone.page.locator("#dose-volume")).to_have_text("= 1 mL")
        expect(phone.page.locator("#dose-of")).to_have_text("of 10 mcg per mL")
        swapped = "Read the label: 1 mL of 0.1 mg per mL would be 100 mcg"
        expect(phone.page.locator("#dose-swapped")).to_have_text(swapped)
        expect(phone.page.locator(".made-with")).to_contain_text("with MAP 54")
        assert phone.page.evaluate("document.documentElement.scrollWidth") <= 390

    def test_the_button_waits_until_mixing_and_labelling_are_ticked(self, phone: Phone):
        phone.pick("IV")
        phone.dose("10 mcg")
        expect(phone.main).to_have_attribute("aria-disabled", "true")
        expect(phone.main).to_contain_text(
            "Check off the syringe or each step: 10 mcg = 1 mL"
        )  # a prefilled one, or mixed

        for step in phone.page.locator(".recipe").first.locator("input").all():
            step.check()

        expect(phone.main).to_have_attribute("aria-disabled", "false")
        expect(phone.main).to_contain_text("Given now: 10 mcg = 1 mL EPINEPHrine IV")
        expect(phone.page.locator("#syringe")).to_have_attribute(
            "aria-label", re.compile("10 mL syringe in hand: push 1 mL, from 10 to 9")
        )
        phone.main.click()
        expect(phone.outcome).to_contain_text("Sent")
        assert Intervention.objects.get().data["amount"] == {"value": 10, "unit": "mcg"}

    def test_before_the_interval_is_over_it_says_from_when_and_recording_stays(
        self, phone: Phone, transport: Transport
    ):
        _given_now(transport)
        phone.open("give/epinephrine-push-dose/")
        phone.pick("IV")
        phone.dose("10 mcg")

        expect(phone.main).to_contain_text("Not before")
        phone.page.get_by_text("Already given: record it").click()
        phone.pick("2 min ago")
        expect(phone.main).to_contain_text(
            re.compile(r"^Record as given 2 min ago, at \d\d:\d\d: 10 mcg = 1 mL EPINEPHrine IV")
        )
        phone.sure()

        expect(phone.outcome).to_contain_text("Sent")
        expect(phone.outcome).to_contain_text("for Kestrel 2,")
        assert Intervention.objects.count() == 2

    @pytest.mark.night
    def test_what_others_gave_before_is_recorded_as_theirs_with_its_time(self, phone: Phone):
        phone.pick("IV")
        phone.dose("10 mcg")
        phone.page.get_by_text("Already given: record it").click()
        phone.type(ago_min=45)
        phone.pick("Hospital")
        phone.main.click()

        expect(phone.outcome).to_contain_text("Sent")
        expect(phone.outcome).to_contain_text("Given by others: EPINEPHrine push dose 10 mcg")
        dose = Intervention.objects.get()
        assert (dose.data["prior"], dose.data["prior_by"]) == (True, "hospital")
        assert timedelta(minutes=44) < clock.now() - dose.given_at < timedelta(minutes=46)

    def test_beyond_the_standing_limit_it_needs_an_order_and_the_request_brings_what_was_chosen(self, phone: Phone):
        phone.pick("IV")
        phone.pick("Other")
        phone.type(**{"amount.value": 30})
        phone.pick("mcg")

        expect(phone.page.locator("#findings")).to_contain_text("Needs an order")
        expect(phone.main).to_contain_text("Needs an order")
        expect(phone.main).to_have_attribute("aria-disabled", "true")

        phone.page.get_by_role("link", name="Request an order").click()
        phone.ready()
        phone.pick("Limit reached")
        expect(phone.main).to_contain_text("Request 30 mcg = 3 mL EPINEPHrine IV")

    def test_without_a_link_it_says_that_nothing_was_checked(self, phone: Phone):
        phone.cut()
        phone.pick("IV")
        phone.dose("10 mcg")

        expect(phone.page.locator("#findings")).to_contain_text("Not checked: offline")


def _given_now(transport: Transport) -> None:
    from uuid import uuid4

    from consult.actions import interventions

    now = clock.now()
    dose = {
        "treatment": "epinephrine-push-dose",
        "amount": {"value": 10, "unit": "mcg"},
        "route": "IV",
        "given_at": now,
    }
    interventions.record_intervention(transport.team.osk, transport.uid, {"id": uuid4(), **dose}, now)


class TestLoop:
    def test_a_request_goes_to_the_physician_with_its_reason(self, take: Take):
        phone = take("orders/request/?treatment=epinephrine-push-dose")
        phone.pick("IV")
        phone.dose("20 mcg")
        expect(phone.main).to_have_attribute("aria-disabled", "true")
        phone.pick("Pressure still low")
        expect(phone.main).to_contain_text("Request 20 mcg = 2 mL EPINEPHrine IV")
        phone.main.click()

        expect(phone.outcome).to_contain_text("Sent")
        order = Order.objects.get()
        assert (order.state, order.data["reason"]) == ("requested", "Pressure still low")

    def test_a_read_back_that_differs_names_the_field_and_one_that_matches_goes_on(
        self, take: Take, transport: Transport
    ):
        order = transport.ask(30)
        transport.decide(order, transport.team.merrin, decision="approve", reason="agreed")
        phone = take(f"orders/{order}/readback/")
        _say(phone, route="IO")

        expect(phone.outcome).to_contain_text("Does not match: route")
        assert "IV" not in phone.outcome.inner_text()
        expect(phone.outcome).to_contain_text("Stop. Check it against the order")
        phone.page.get_by_role("button", name="Read back again").click()
        _say(phone, route="IV")

        expect(phone.outcome).to_contain_text("Read-back matches the order")
        expect(phone.page.get_by_role("button", name="Read back again")).to_be_hidden()
        assert Order.objects.get().state == "read_back"


def _say(phone: Phone, route: str) -> None:
    phone.page.locator("#drugs summary").filter(has_text="Push doses").click()
    phone.pick("EPINEPHrine push dose")
    phone.page.locator(f'label.pick:has(input[name="route"][value="{route}"])').click()
    phone.pick("Strength, volume")
    phone.type(**{"strength.value": 10, "volume.value": 3})
    phone.pick("mcg per mL")
    phone.page.locator('[name="words_too"]').check()
    phone.main.click()


class TestEveryPage:
    def test_all_can_be_used_by_everybody_and_fits_a_narrow_phone_and_the_content_policy_refuses_nothing(
        self, take: Take, transport: Transport
    ):
        """By axe; targets are 52 px high with their labels, which axe does not count; no page is wider than 320 px."""
        _busy(transport)
        phone = take()
        page, told = phone.page, list[str]()
        page.on("console", lambda message: told.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: told.append(str(error)))

        for path in thinned(PAGES, every=3):
            page.set_viewport_size({"width": 390, "height": 844})
            assert serious_faults(phone.open(path).page, WITHOUT_TARGETS) == [], path
            page.set_viewport_size({"width": 320, "height": 640})
            assert page.evaluate("document.documentElement.scrollWidth") <= 320, path
            assert page.evaluate(TOO_SMALL) == [], path
        assert told == []


TOO_SMALL = """() => [...document.querySelectorAll("a, button, label.pick, summary, label.box, .recipe label")]
  .filter((each) => each.offsetParent && !each.matches(".skip"))
  .filter((each) => each.getBoundingClientRect().height < 52)
  .map((each) => each.outerHTML.slice(0, 100))"""


def _busy(transport: Transport) -> None:
    """As much as a page can show: an alert, a dose with its reassessment, an order to read back."""
    transport.vitals(sbp=74, dbp=44, bp_method="cuff", hr=128)
    _given_now(transport)
    transport.decide(transport.ask(30), transport.team.merrin, decision="approve", reason="agreed")
