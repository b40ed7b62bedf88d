"""Orders while they are typed: the check is of that dose and the newest pressure, ten times is held, typing stays."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from consult import clock
from consult.models import Order
from tests.browser.conftest import SignIn, Transport

ANEW = r"^checked again \d\d:\d\d:\d\d with MAP {}$"
MADE = r"checked \d\d:\d\d:\d\d with MAP {}$"


def live(sign_in: SignIn, path: str, who: str = "merrin") -> Page:
    page = sign_in(who, path)
    expect(page.locator("#live-word")).to_have_text("Live")
    return page


def changing(page: Page) -> Locator:
    page.get_by_role("button", name="Change", exact=True).click()
    return page.locator("form[data-name='change']")


def fill(form: Locator, value: str, unit: str = "mcg") -> None:
    form.locator("[name='amount.value']").fill(value)
    form.locator("[name='amount.unit']").select_option(unit)


def options(form: Locator, name: str) -> list[str]:
    texts: list[str] = form.locator(f"[name='{name}'] option").all_inner_texts()
    return [text for text in texts if text]


class TestTheCheckRunsWhileOneTypes:
    def test_with_each_keystroke_and_stands_beside_no_other_dose(self, transport: Transport, sign_in: SignIn):
        transport.vitals(sbp=74, dbp=44)
        transport.ask(20)
        form = changing(live(sign_in, "/board/"))
        fill(form, "50")
        found = form.locator("[data-findings]")
        expect(found).to_contain_text("50 mcg = 5 mL")
        expect(found.locator(".made-with")).to_have_text(re.compile(MADE.format(54)))

        form.locator("[name='amount.value']").fill("10")

        expect(found).to_contain_text("10 mcg = 1 mL")
        expect(found).not_to_contain_text("50 mcg")

    def test_an_answer_that_comes_late_is_dropped(self, transport: Transport, sign_in: SignIn):
        """The answer to 50 mcg is kept back until 10 mcg was answered."""
        transport.vitals(sbp=74, dbp=44)
        transport.ask(20)
        page = live(sign_in, "/board/")
        form, kept = changing(page), []

        def keep(route: Any) -> None:
            if '"50"' in (route.request.post_data or ""):
                kept.append(route)
            else:
                route.continue_()

        page.context.route("**/checks/", keep)
        with page.expect_request(lambda request: '"50"' in (request.post_data or "")):
            fill(form, "50")
        form.locator("[name='amount.value']").fill("10")
        expect(form.locator("[data-findings]")).to_contain_text("10 mcg = 1 mL")
        with page.expect_response(lambda answer: '"50"' in (answer.request.post_data or "")):
            kept[0].continue_()

        expect(form.locator("[data-findings]")).to_contain_text("10 mcg = 1 mL")
        expect(form.locator("[data-findings]")).not_to_contain_text("50 mcg")

    def test_a_new_pressure_makes_it_anew_and_stands_beside_the_form(self, transport: Transport, sign_in: SignIn):
        transport.vitals(sbp=74, dbp=44, hr=128)
        transport.ask(20)
        form = changing(live(sign_in, "/board/"))
        fill(form, "10")
        expect(form.locator(".made-with")).to_have_text(re.compile(MADE.format(54)))
        expect(form.locator("[data-now-line]")).to_contain_text("MAP 54 mmHg, Critical · 74/44 mmHg · HR 128 /min")

        transport.vitals(sbp=120, dbp=80, hr=100)

        expect(form.locator(".made-with")).to_have_text(re.compile(MADE.format(93)))
        expect(form.locator("[data-now-line]")).to_contain_text("MAP 93 mmHg")
        expect(form.locator("[name='amount.value']")).to_have_value("10")

    @pytest.mark.night
    def test_what_is_older_than_the_pressure_says_its_own_age(self, transport: Transport, sign_in: SignIn):
        transport.vitals(etco2=38, rr=18, taken_at=clock.now() - timedelta(minutes=11))
        transport.vitals(sbp=74, dbp=44, hr=128)
        transport.ask(20)

        form = changing(live(sign_in, "/board/"))

        told = r"HR 128 /min \d+ s ago · EtCO2 38 mmHg · RR 18 /min 11 min ago$"
        expect(form.locator("[data-now-line]")).to_have_text(re.compile(told))

    def test_a_waiting_request_is_put_to_the_rules_anew_with_each_card(self, transport: Transport, sign_in: SignIn):
        transport.vitals(sbp=100, dbp=50)
        transport.ask(10)
        page = live(sign_in, "/board/")
        expect(page.locator(".ask [data-made]")).to_have_text(re.compile(ANEW.format(67)))

        transport.vitals(sbp=150, dbp=100)

        expect(page.locator(".ask [data-made]")).to_have_text(re.compile(ANEW.format(117)))
        expect(page.locator(".ask [data-checked]")).to_contain_text("above")

    @pytest.mark.night
    def test_on_the_case_page_too(self, transport: Transport, sign_in: SignIn):
        transport.vitals(sbp=74, dbp=44)
        page = live(sign_in, f"/cases/{transport.uid}/")
        page.get_by_role("button", name="Order from the rules").click()
        form = page.locator("form[data-name='order']")
        form.get_by_label("Treatment").select_option("epinephrine-push-dose")
        fill(form, "30")
        form.locator("[name='route']").select_option("IV")
        expect(form.locator("[data-findings]")).to_contain_text("Needs your order")
        expect(form.get_by_label("Reason: needed, over a standing limit")).to_have_attribute("required", "")

        transport.vitals(sbp=90, dbp=60)

        expect(form.locator(".made-with")).to_have_text(re.compile(MADE.format(70)))
        expect(form.locator("[data-now-line]")).to_contain_text("MAP 70 mmHg")


class TestTenTimesWhatWasAsked:
    def test_is_said_in_words_and_wants_a_second_press(self, transport: Transport, sign_in: SignIn):
        transport.vitals(sbp=74, dbp=44)
        transport.ask(10)
        form = changing(live(sign_in, "/board/"))
        fill(form, "0.1", "mg")
        form.locator("[name='reason']").fill("no response")
        expect(form.locator(".far-off")).to_have_text("0.1 mg is ten times what was requested (10 mcg).")

        form.locator("[type='submit']").click()
        expect(form.locator("[type='submit']")).to_contain_text("Press again: 0.1 mg is ten times what was requested")
        assert Order.objects.get().state == "requested"
        form.locator("[type='submit']").click()

        expect(form).to_be_hidden()
        assert Order.objects.get().state == "approved"

    @pytest.mark.night
    def test_another_amount_asks_anew(self, transport: Transport, sign_in: SignIn):
        transport.vitals(sbp=74, dbp=44)
        transport.ask(20)
        form = changing(live(sign_in, "/board/"))
        fill(form, "2")
        form.locator("[name='reason']").fill("no response")
        form.locator("[type='submit']").click()
        expect(form.locator("[type='submit']")).to_contain_text("Press again")
        form.locator("[name='amount.value']").fill("1")

        expect(form.locator(".far-off")).to_have_text("1 mcg is 1/20 of what was requested (20 mcg).")
        expect(form.locator("[type='submit']")).to_contain_text("Order the changed dose")


class TestOverAHardLimit:
    def test_all_of_it_is_said_and_a_second_physician_is_asked_for(self, transport: Transport, sign_in: SignIn):
        """5 mg of a drug that is pushed in micrograms is above any hard limit, and far from what was asked."""
        transport.vitals(sbp=74, dbp=44)
        transport.ask(10)
        form = changing(live(sign_in, "/board/"))
        fill(form, "5", "mg")
        form.locator("[name='reason']").fill("no response")
        found, button = form.locator("[data-findings]"), form.locator("[type='submit']")

        expect(found).to_contain_text("Over a hard limit: 5,000 mcg is over the hard limit of 100 mcg for an adult")
        why = form.get_by_label("Why over the hard limit? A second physician must co-sign it")
        expect(why).to_be_visible()
        assert found.evaluate("list => list.scrollHeight <= list.clientHeight"), "a line is cut off"
        last = found.locator("li").last.bounding_box()
        place = button.bounding_box()
        assert last
        assert place
        assert last["y"] + last["height"] <= place["y"], "a line lies under the button"

        why.fill("arterial line in, no answer to three doses")
        button.click()
        expect(button).to_contain_text("Press again: 5 mg is 500 times what was requested (10 mcg)")

        fill(form, "20", "mcg")
        expect(why).to_be_hidden()
        expect(button).to_contain_text("Order the changed dose")
        fill(form, "150", "mcg")
        why.fill("arterial line in, no answer to three doses")
        button.click()
        button.click()  # 15 times what was requested
        expect(form.page.locator(".ask-head")).to_contain_text("second physician needed")


class TestOnlyWhatTheTreatmentHas:
    @pytest.mark.night
    def test_a_change_offers_its_routes_and_units(self, transport: Transport, sign_in: SignIn):
        transport.ask(20)
        form = changing(live(sign_in, "/board/"))

        assert options(form, "route") == ["IV, as asked", "IO"]
        assert options(form, "amount.unit") == ["mcg", "mg", "g", "mcg/kg", "mg/kg"]

    def test_an_order_offers_those_of_the_chosen_treatment(self, transport: Transport, sign_in: SignIn):
        page = live(sign_in, f"/cases/{transport.uid}/")
        page.get_by_role("button", name="Order from the rules").click()
        form = page.locator("form[data-name='order']")
        form.get_by_label("Treatment").select_option("epinephrine-im")
        expect(form.locator("[name='route']")).to_have_value("IM")
        assert options(form, "route") == ["IM"]

        form.get_by_label("Treatment").select_option("vasopressin-infusion")

        assert options(form, "route") == ["IO", "IV"]
        assert options(form, "amount.unit") == ["units/min", "units/kg/min", "mL/h"]
        assert options(form, "concentration.unit") == ["units per mL"]

        shown = {"epinephrine-im": ["repeat.times"], "vasopressin-infusion": ["concentration.value"]}
        shown |= {"blood-product": ["repeat.times", "product"], "crystalloid-bolus": ["repeat.times", "product"]}
        for treatment, fields in shown.items():
            form.get_by_label("Treatment").select_option(treatment)
            names = ("repeat.times", "concentration.value", "product")
            assert [name for name in names if form.locator(f"[name='{name}']").is_visible()] == fields, treatment

    def test_a_strength_has_the_unit_of_the_checked_one_and_a_fault_names_its_field(
        self, transport: Transport, sign_in: SignIn
    ):
        transport.vitals(sbp=74, dbp=44)
        page = live(sign_in, f"/cases/{transport.uid}/")
        page.get_by_role("button", name="Order from the rules").click()
        form = page.locator("form[data-name='order']")
        form.get_by_label("Treatment").select_option("norepinephrine-infusion")
        expect(form.get_by_label("Unit of the strength")).to_have_value("mcg/mL")
        fill(form, "0.05", "mcg/kg/min")
        form.locator("[name='route']").select_option("IV")
        form.locator("[name='reason']").fill("low")
        form.get_by_label("Strength of the infusion").fill("16")
        form.get_by_label("Unit of the strength").select_option("")
        form.locator("[type='submit']").click()

        expect(form.locator("> .problem")).to_have_text("Unit of the strength: This field is required.")
        form.get_by_label("Strength of the infusion").fill("")
        form.locator("[type='submit']").click()
        expect(form).to_be_hidden()


class TestAColleagueActsMeanwhile:
    def test_a_query_leaves_what_is_typed_and_the_change_can_still_be_sent(self, transport: Transport, sign_in: SignIn):
        order, sent = transport.ask(20), []
        page = live(sign_in, "/board/")
        form = changing(page)
        fill(form, "10")
        form.locator("[name='reason']").fill("half of it")

        transport.decide(order, transport.team.quillan, decision="ask", text="Lungs?")

        expect(form.locator(".problem")).to_contain_text("Meanwhile: Query by Dr. Quillan: “Lungs?”")
        expect(form.locator("[name='amount.value']")).to_have_value("10")
        page.context.route("**/decision/", lambda route: sent.append(route))
        with page.expect_request("**/decision/"):
            form.locator("[type='submit']").click()
        transport.vitals(sbp=82, dbp=46)
        expect(page.locator(".card")).to_contain_text("82/46")
        expect(form).to_be_visible()  # a card that comes while the answer is waited for takes nothing away
        sent[0].continue_()
        expect(form).to_be_hidden()
        assert Order.objects.get().state == "approved"

    def test_a_decision_is_told_by_name_and_going_back_shows_what_stands(self, transport: Transport, sign_in: SignIn):
        order = transport.ask(20)
        page = live(sign_in, "/board/")
        form = changing(page)
        fill(form, "10")

        transport.decide(order, transport.team.quillan, decision="approve", reason="agreed")

        expect(form.locator(".problem")).to_contain_text("The order was approved by Dr. Quillan at")
        expect(form.locator("[name='amount.value']")).to_have_value("10")
        expect(form.locator("[type='submit']")).to_be_disabled()
        form.get_by_role("button", name="Back").click()
        expect(page.locator(".ask[data-step='approved']")).to_be_visible()

    def test_taking_control_leaves_an_order_that_is_typed(self, transport: Transport, sign_in: SignIn):
        from uuid import uuid4

        from consult.actions import cases

        page = live(sign_in, f"/cases/{transport.uid}/")
        page.get_by_role("button", name="Order from the rules").click()
        form = page.locator("form[data-name='order']")
        form.locator("[name='reason']").fill("no response to fluid")

        cases.accept(transport.team.quillan, transport.uid, {"id": uuid4()}, clock.now())

        expect(form.locator(".problem")).to_contain_text("Meanwhile: medical control Dr. Quillan")
        expect(form.locator("[name='reason']")).to_have_value("no response to fluid")
        expect(form.locator("[type='submit']")).to_be_enabled()
