"""The case page in a browser: parts renew themselves around an open form; the cursor; an order checked first."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import SignIn, Transport


def live_case(sign_in: SignIn, transport: Transport, who: str = "merrin") -> Page:
    page = sign_in(who, f"/cases/{transport.uid}/")
    expect(page.locator("#live-word")).to_have_text("Live")
    return page


def test_a_reading_renews_number_chart_and_timeline(transport: Transport, sign_in: SignIn):
    page = live_case(sign_in, transport)

    transport.vitals(sbp=96, dbp=44, hr=128)

    expect(page.locator(".now .map-value")).to_have_text("61")
    expect(page.locator(".chart-wide .tr-bar")).to_have_count(1)
    expect(page.locator(".timeline li").filter(has_text="Pressure")).to_contain_text("96/44 mmHg, MAP 61")


def test_a_note_being_written_survives_a_renewal_and_is_kept_in_the_timeline(transport: Transport, sign_in: SignIn):
    page = live_case(sign_in, transport)
    page.get_by_role("button", name="Note", exact=True).click()
    page.locator("form[data-name='note'] textarea").fill("Called back by ")

    transport.vitals(sbp=96, dbp=44)

    expect(page.locator(".now .map-value")).to_have_text("61")
    page.keyboard.type("telephone")
    page.get_by_role("button", name="Add note to Kestrel 2 A").click()
    expect(page.locator(".timeline")).to_contain_text("Note: Called back by telephone Dr. Merrin")
    expect(page.locator("form[data-name='note']")).to_be_hidden()


def test_an_order_is_checked_for_this_patient_and_then_given(transport: Transport, sign_in: SignIn):
    page = live_case(sign_in, transport)
    page.get_by_role("button", name="Order from the rules").click()
    form = page.locator("form[data-name='order']")
    form.get_by_label("Treatment").select_option("epinephrine-push-dose")
    form.locator("[name='amount.value']").fill("10")
    form.locator("[name='amount.unit']").select_option("mcg")
    form.locator("[name='route']").select_option("IV")

    expect(form.locator("[data-findings]")).to_contain_text("10 mcg = 1 mL of 10 mcg per mL")
    form.locator("[name='reason']").fill("no response to fluid")
    form.get_by_role("button", name="Order for Kestrel 2 A").click()
    expect(page.locator(".ask[data-step='approved'] .ask-what")).to_have_text("EPINEPHrine push dose 10 mcg IV")


def test_the_goal_is_set_for_this_patient_with_its_reason(transport: Transport, sign_in: SignIn):
    transport.vitals(sbp=96, dbp=50)
    page = live_case(sign_in, transport)
    page.get_by_role("button", name="Set goal").click()
    form = page.locator("form[data-name='goal']")
    form.locator("[name='measure']").select_option("map")
    form.locator("[name='floor']").fill("70")
    form.locator("[name='reason']").fill("chronic hypertension")

    form.get_by_role("button", name="Set goal for Kestrel 2 A").click()

    expect(page.locator(".now .map-beside .goal")).to_have_text("goal 70")
    expect(page.locator(".timeline")).to_contain_text("MAP goal: 70 mmHg, chronic hypertension")


def test_accept_and_transfer_of_control_name_the_physician(transport: Transport, sign_in: SignIn):
    page = live_case(sign_in, transport)
    page.get_by_role("button", name="Take control of Kestrel 2").click()
    expect(page.locator(".facts")).to_contain_text("Medical control Dr. Merrin")

    other = live_case(sign_in, transport, "quillan")
    other.get_by_role("button", name="Take over control").click()
    other.get_by_role("button", name="Take control of Kestrel 2 A").click()

    expect(page.locator(".facts")).to_contain_text("Medical control Dr. Quillan")


def test_a_case_is_closed_and_reopened(transport: Transport, sign_in: SignIn):
    page = live_case(sign_in, transport)
    page.get_by_role("button", name="Close", exact=True).click()
    page.locator("form[data-name='close'] select").select_option("cancelled")
    page.get_by_role("button", name="Close the case of Kestrel 2 A").click()
    expect(page.locator(".patient-person .tag")).to_have_text("closed")

    page.get_by_role("button", name="Reopen").first.click()
    page.locator("form[data-name='reopen'] input").fill("closed by mistake")
    page.get_by_role("button", name="Reopen Kestrel 2 A").click()

    expect(page.locator(".patient-person .tag")).to_have_count(0)


@pytest.mark.night
def test_arrow_keys_read_the_chart_set_by_set(transport: Transport, sign_in: SignIn):
    transport.vitals(sbp=96, dbp=44, hr=128)
    transport.vitals(sbp=92, dbp=42, hr=130)
    page = live_case(sign_in, transport)
    chart = page.locator(".chart-wide")

    chart.focus()
    chart.press("ArrowRight")
    expect(page.locator("#readout")).to_contain_text("MAP 59 mmHg · 92/42 mmHg · HR 130 /min")
    chart.press("ArrowLeft")

    expect(page.locator("#readout")).to_contain_text("MAP 61 mmHg · 96/44 mmHg · HR 128 /min")


@pytest.mark.night
def test_the_range_of_the_chart_stays_chosen_when_the_case_moves_on(transport: Transport, sign_in: SignIn):
    page = live_case(sign_in, transport)

    page.get_by_role("button", name="15 min").click()
    expect(page.get_by_role("button", name="15 min")).to_have_attribute("aria-pressed", "true")
    transport.vitals(sbp=96, dbp=44)

    expect(page.locator(".now .map-value")).to_have_text("61")
    expect(page.get_by_role("button", name="15 min")).to_have_attribute("aria-pressed", "true")


@pytest.mark.night
def test_the_crew_sees_the_same_page_and_may_not_decide(transport: Transport, sign_in: SignIn):
    transport.ask(30)
    page = live_case(sign_in, transport, "osk")

    expect(page.get_by_role("button", name=re.compile("^Approve"))).to_be_disabled()
    expect(page.get_by_role("button", name="Note", exact=True)).to_be_enabled()
