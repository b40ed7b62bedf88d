"""Rates on the crew's phone: a new rate is judged before it is recorded; what was ordered is what is offered."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import Any
from uuid import UUID, uuid4

import pytest
from playwright.sync_api import expect

from consult import clock, queries
from consult.actions import containers, interventions, orders, read_back
from consult.models import Case, Intervention
from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import Phone, taken

DRIP = {"treatment": "norepinephrine-infusion", "route": "IV", "concentration": {"value": 16, "unit": "mcg/mL"}}


def rate(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mcg/kg/min"}


@pytest.fixture
def take(sign_in: SignIn, transport: Transport) -> Callable[[str], Phone]:
    """Take the phone in hand on a page of the open case, an adult of 80 kg."""
    return partial(taken, sign_in, transport)


@pytest.fixture
def running(transport: Transport) -> str:
    now = clock.now()
    started = {"id": uuid4(), "given_at": now, "status": "running", "amount": rate(0.1), **DRIP}
    interventions.record_intervention(transport.team.osk, transport.uid, started, now)
    return str(started["id"])


@pytest.fixture
def ordered(transport: Transport) -> str:
    """0.1 mcg/kg/min of 16 mcg per mL, ordered and read back."""
    now, team = clock.now(), transport.team
    wanted = {"id": uuid4(), "at": now, "reason": "no response", "action": "start", "amount": rate(0.1), **DRIP}
    order = str(orders.request_order(team.osk, transport.uid, wanted, now).resource.id)
    transport.decide(order, team.merrin, decision="approve", reason="agreed")
    said = {"treatment": DRIP["treatment"], "route": "IV", "amount": rate(0.1)}
    read_back.read_back(team.osk, UUID(order), {"id": uuid4(), **said}, clock.now())
    return order


def test_a_new_rate_is_judged_and_named_before_it_is_recorded(take: Callable[[str], Phone], running: str):
    """0.2 mcg/kg/min x 80 kg x 60 / 16 mcg/mL are 60 mL/h; 1 mcg/kg/min is the hard limit (demonstration rules)."""
    phone = take(f"change/{running}/")
    phone.pick("New rate")
    phone.type(**{"amount.value": 0.2})
    phone.pick("mcg/kg/min")
    expect(phone.main).to_contain_text("New rate: 0.2 mcg/kg/min = 60 mL/h")
    expect(phone.page.locator("#flow")).to_contain_text("Pump: set 60 mL/h")

    phone.type(**{"amount.value": 5})
    expect(phone.page.locator("#findings")).to_contain_text("Over a hard limit: 5 mcg/kg/min is over")
    expect(phone.main).to_contain_text("Over a hard limit: confirm it above")
    phone.page.locator("[data-beyond]").get_by_role("button", name="I am sure: it was 5 mcg/kg/min").click()
    expect(phone.main).to_contain_text("Over a hard limit. Record as set: 5 mcg/kg/min = 1,500 mL/h")
    assert phone.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    assert Intervention.objects.get().rate == rate(5)


def test_a_pressor_that_stops_below_the_goal_is_told_and_explained(
    take: Callable[[str], Phone], running: str, transport: Transport
):
    """The reason goes out with the change; at the goal none is needed, and a new rate has none."""
    transport.vitals(sbp=74, dbp=44)
    phone = take(f"change/{running}/")
    low = phone.page.locator("#low")
    phone.pick("New rate")
    expect(low).to_be_hidden()
    phone.pick("Stopped early")
    expect(low).to_contain_text("MAP 54 is below goal 65, and this pressor stops.")
    expect(phone.main).to_contain_text("MAP 54 is below goal 65: why?")
    phone.pick("Fast or irregular pulse")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    (dose,) = queries.card(Case.objects.get())["doses"]
    assert (dose["status"], dose["reason"]) == ("stopped", "Fast or irregular pulse")


@pytest.mark.night
def test_what_was_sent_stands_on_the_page_as_what_runs_now(take: Callable[[str], Phone], running: str):
    phone = take(f"change/{running}/")
    faults: list[str] = []
    phone.page.on("pageerror", lambda fault: faults.append(str(fault)))
    phone.pick("New rate")
    phone.type(**{"amount.value": 0.2})
    phone.pick("mcg/kg/min")
    expect(phone.main).to_contain_text("New rate: 0.2 mcg/kg/min")
    phone.main.click()

    expect(phone.page.locator('[data-part="what"]')).to_contain_text("infusion 0.2 mcg/kg/min")
    expect(phone.outcome).to_contain_text("Sent")
    assert not faults


def test_another_rate_than_ordered_is_said_and_ten_times_it_is_confirmed(
    take: Callable[[str], Phone], ordered: str, running: str
):
    """0.1 mcg/kg/min ordered are 8 mcg/min of 80 kg, of 16 mcg per mL 30 mL/h; 10 times as much are 1 and 300."""
    phone = take(f"change/{running}/")
    findings = phone.page.locator("#findings")
    phone.pick("New rate")
    phone.type(**{"amount.value": 0.1})
    phone.pick("mcg/kg/min")
    expect(phone.main).to_contain_text("New rate: 0.1 mcg/kg/min = 30 mL/h")
    expect(findings).not_to_contain_text("Not as ordered")

    phone.type(**{"amount.value": 0.2})
    expect(findings).to_contain_text("Not as ordered: 0.1 mcg/kg/min")
    expect(phone.main).to_contain_text("Not as ordered. New rate: 0.2 mcg/kg/min = 60 mL/h")

    phone.pick("mL/h")
    phone.type(**{"amount.value": 30})
    expect(phone.main).to_contain_text(re.compile(r"^New rate: 0.1 mcg/kg/min = 30 mL/h"))

    phone.pick("mcg/kg/min")
    phone.type(**{"amount.value": 1})
    expect(phone.main).to_contain_text("Ten times what was ordered, 0.1 mcg/kg/min: confirm it above")
    expect(phone.main).to_have_attribute("aria-disabled", "true")
    phone.page.locator("[data-beyond]").get_by_role("button", name="I am sure: it was 1 mcg/kg/min").click()
    expect(phone.main).to_contain_text("Not as ordered. New rate: 1 mcg/kg/min = 300 mL/h")
    expect(phone.main).to_have_attribute("aria-disabled", "false")


@pytest.mark.night
def test_the_page_of_what_was_stopped_says_so_and_offers_no_more(take: Callable[[str], Phone], running: str):
    phone = take(f"change/{running}/")
    faults: list[str] = []
    phone.page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    phone.pick("Stopped early")
    phone.main.click()

    expect(phone.page.locator('[data-part="what"]')).to_contain_text("Stopped early")
    expect(phone.outcome).to_contain_text("Sent")
    expect(phone.page.get_by_role("button", name="Another change")).to_be_hidden()
    assert not faults


@pytest.mark.night
def test_an_end_is_judged_by_nobody(take: Callable[[str], Phone], running: str):
    phone = take(f"change/{running}/")
    phone.pick("Stopped early")

    expect(phone.main).to_contain_text("Record the stop: norepinephrine infusion")
    expect(phone.page.locator("#findings")).to_be_empty()


def test_what_was_ordered_is_chosen_and_more_or_another_strength_is_not_it(take: Callable[[str], Phone], ordered: str):
    phone = take(f"give/norepinephrine-infusion/?order={ordered}")
    expect(phone.page.locator('[name="dose"][value="0.1 mcg/kg/min"]')).to_be_checked()
    expect(phone.main).to_contain_text("Choose the strength in hand")
    phone.pick("16 mcg per mL")
    expect(phone.main).to_contain_text("Started now: 0.1 mcg/kg/min = 30 mL/h")

    told = "Not as ordered: 0.1 mcg/kg/min of 16 mcg per mL"
    phone.dose("other")
    phone.type(**{"amount.value": 0.5})
    phone.pick("mcg/kg/min")
    expect(phone.main).to_contain_text(told)
    phone.dose("0.1 mcg/kg/min")
    phone.pick("64 mcg per mL")
    expect(phone.main).to_contain_text(told)
    expect(phone.main).to_have_attribute("aria-disabled", "true")
    phone.pick("16 mcg per mL")
    phone.dose("0.05 mcg/kg/min")
    expect(phone.main).to_contain_text("Started now: 0.05 mcg/kg/min = 15 mL/h")


def test_with_another_strength_in_hand_a_new_rate_asks_of_which_bag(
    take: Callable[[str], Phone], running: str, transport: Transport
):
    """30 mL/h of 16 mcg/mL are 0.1 mcg/kg/min for 80 kg, of 64 mcg/mL 0.4; that 0.1 is 7.5 mL/h then."""
    strong = {"strength": {"value": 64, "unit": "mcg/mL"}, "volume": {"value": 100, "unit": "mL"}}
    bag = {"id": uuid4(), "form": "bag", "at": clock.now(), "treatment": DRIP["treatment"], **strong}
    containers.record_container(transport.team.osk, transport.uid, bag, clock.now())
    phone = take(f"change/{running}/")
    phone.pick("New rate")
    phone.type(**{"amount.value": 30})
    phone.pick("mL/h")
    expect(phone.main).to_contain_text("From the bag of which strength?")
    phone.page.get_by_text("64 mcg per mL").first.click()
    expect(phone.main).to_contain_text("0.4 mcg/kg/min")
    phone.page.locator('input[name="concentration"][value="16 mcg/mL"] >> xpath=..').click()
    expect(phone.main).to_contain_text("0.1 mcg/kg/min")

    phone.page.get_by_text("64 mcg per mL").first.click()
    phone.type(**{"amount.value": 7.5})
    expect(phone.main).to_contain_text("0.1 mcg/kg/min = 7.5 mL/h")
    phone.main.click()
    expect(phone.outcome).to_contain_text("7.5 mL/h of 64 mcg per mL")
    expect(phone.outcome).to_contain_text("Sent")
    (dose,) = queries.card(Case.objects.get(uid=transport.uid))["running"]
    assert dose["concentration"] == strong["strength"]
