"""A rate that the crew steps up by order, on both sides' pages: ordered, read back as a whole, set by one press."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Any
from uuid import UUID, uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import interventions, notes, orders, read_back
from consult.models import Intervention, Order
from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import Phone, taken

DRIP = {"treatment": "norepinephrine-infusion", "route": "IV", "concentration": {"value": 16, "unit": "mcg/mL"}}


def rate(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mcg/kg/min"}


STEPS = {"step": rate(0.05), "every_min": 3, "most": rate(0.15), "goal": {"measure": "map", "floor": 65}}
START = {**DRIP, "action": "start", "amount": rate(0.05)}


@pytest.fixture
def take(sign_in: SignIn, transport: Transport) -> Callable[[str], Phone]:
    """Take the phone in hand on a page of the open case, an adult of 80 kg."""
    return partial(taken, sign_in, transport)


def place(transport: Transport, at: Any, **more: Any) -> str:
    team = transport.team
    wanted = {"id": uuid4(), "at": at, "reason": "as agreed", **START, "titrate": {**STEPS, **more}}
    return str(orders.request_order(team.merrin, transport.uid, wanted, at).resource.id)


def started(transport: Transport, minutes_ago: float, **more: Any) -> tuple[str, str]:
    """The order and the infusion that was started by it so many minutes ago."""
    at, osk = clock.now() - timedelta(minutes=minutes_ago), transport.team.osk
    order = place(transport, at, **more)
    said = {name: START[name] for name in ("treatment", "route", "amount")} | {"titrate": {**STEPS, **more}}
    read_back.read_back(osk, UUID(order), {"id": uuid4(), **said}, at)
    dose = {"id": uuid4(), "given_at": at, "status": "running", "order": UUID(order), "container_ml": 250}
    runs = {name: value for name, value in START.items() if name != "action"}
    interventions.record_intervention(osk, transport.uid, {**dose, **runs}, at)
    return order, str(dose["id"])


def step_button(phone: Phone) -> Any:
    return phone.page.locator("form[data-by-step] button")


def test_one_press_sets_the_next_rate_and_the_one_after_it_is_counted_down(
    take: Callable[[str], Phone], transport: Transport
):
    """0.1 mcg/kg/min x 80 kg x 60 / 16 mcg/mL are 30 mL/h (dopamine prescribing information, mL/h)."""
    transport.vitals(sbp=84, dbp=44)
    _, runs = started(transport, 4)
    phone = take("")
    button = step_button(phone)
    expect(button).to_contain_text("Up to 0.1 mcg/kg/min = 30 mL/h now")
    button.click()

    expect(button).to_contain_text(re.compile(r"Up to 0.15 mcg/kg/min = 45 mL/h in \d:\d\d"))
    expect(button).to_have_attribute("aria-disabled", "true")
    assert Intervention.objects.get(uid=runs).rate == rate(0.1)
    assert phone.page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_pressure_that_is_due_comes_before_the_next_step(take: Callable[[str], Phone], transport: Transport):
    """The rules ask for a pressure 3 min after a rate was set; the page leads to it, and then to the step."""
    started(transport, 6)
    phone = take("")
    way = phone.page.get_by_role("link", name="A pressure first, then up to 0.1 mcg/kg/min")
    expect(way).to_be_visible()
    expect(step_button(phone)).to_be_hidden()
    expect(phone.page.get_by_text("The next step may be set now")).to_be_hidden()
    way.click()
    phone.page.wait_for_url("**/vitals/")
    phone.ready().type(sbp=84, dbp=44)
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    phone.open()

    expect(way).to_be_hidden()
    expect(step_button(phone)).to_contain_text("Up to 0.1 mcg/kg/min = 30 mL/h now")


def test_in_an_arrest_no_step_is_offered_and_with_a_pulse_again_it_is(
    take: Callable[[str], Phone], transport: Transport
):
    transport.vitals(sbp=84, dbp=44)
    started(transport, 4)
    phone = take("")
    expect(step_button(phone)).to_be_visible()
    for name, stands in (("arrest", False), ("pulse_back", True)):
        told = {"id": uuid4(), "phase": name, "at": clock.now()}
        notes.change_phase(transport.team.osk, transport.uid, told, clock.now())
        expect(phone.page.locator(".stepping")).to_be_visible(visible=stands)
    assert "stepping" in phone.page.content()


@pytest.mark.night
def test_in_an_arrest_that_was_entered_without_a_link_the_page_of_the_order_offers_none_either(
    take: Callable[[str], Phone], transport: Transport
):
    transport.vitals(sbp=84, dbp=44)
    order, _ = started(transport, 4)
    phone = take(f"orders/{order}/")
    expect(phone.page.locator(".stepping")).to_be_visible()
    phone.open("phase/").cut()
    phone.pick("Cardiac arrest")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")

    expect(phone.open(f"orders/{order}/").page.locator(".stepping")).to_be_hidden()
    expect(step_button(phone)).to_be_hidden()


def test_a_request_names_its_steps_and_the_most_before_it_is_sent(take: Callable[[str], Phone], transport: Transport):
    transport.vitals(sbp=84, dbp=44)
    phone = take("orders/request/?treatment=norepinephrine-infusion&route=IV&amount=0.05+mcg/kg/min")
    expect(phone.main).not_to_contain_text("up by")
    phone.pick("Yes, with steps")
    steps = {"titrate.step.value": 0.05, "titrate.every_min": 3, "titrate.most.value": 0.3, "titrate.goal.floor": 65}
    phone.type(**steps)
    phone.page.locator('label.pick:has([name="titrate.unit"][value="mcg/kg/min"])').click()
    phone.page.locator('label.pick:has([name="titrate.goal.measure"][value="map"])').click()
    phone.pick("Pressure still low")
    named = "up by 0.05 mcg/kg/min to at most 0.3 mcg/kg/min"
    expect(phone.main).to_contain_text(f"Request 0.05 mcg/kg/min norepinephrine IV, {named}")
    fits = "button => button.scrollWidth <= button.clientWidth && button.scrollHeight <= button.clientHeight"
    assert phone.main.evaluate(fits)
    phone.main.click()

    expect(phone.outcome).to_contain_text(named)


@pytest.mark.night
def test_the_button_of_a_step_grows_with_its_words(take: Callable[[str], Phone], transport: Transport):
    transport.vitals(sbp=84, dbp=44)
    started(transport, 4)
    label = step_button(take("")).locator(".big-label")
    told = "Press again: up to 0.15 mcg/kg/min = 45 mL/h of 16 mcg per mL, although the pressure is at its goal"
    label.evaluate("(label, told) => { label.textContent = told; }", told)

    assert label.evaluate("label => label.scrollHeight <= label.clientHeight && label.scrollWidth <= label.clientWidth")


@pytest.mark.night
def test_what_the_rules_flag_of_a_step_is_said_before_it(take: Callable[[str], Phone], transport: Transport):
    """Nobody steps a pressor up whose pressure is at its goal without being told so."""
    started(transport, 4)
    transport.vitals(sbp=120, dbp=80)

    expect(take("").page.locator("[data-part^='step-'] .finding").first).to_contain_text("goal")


@pytest.mark.parametrize(
    ("steps", "sbp", "told"),
    [
        ({"call_at": rate(0.05)}, 84, "Call medical control before the next step"),
        ({}, 110, "At the goal: no further step is needed"),
        ({"most": rate(0.05)}, 84, "At the ordered maximum"),
    ],
)
@pytest.mark.night
def test_both_sides_say_when_to_call_and_when_to_stop(
    take: Callable[[str], Phone], sign_in: SignIn, transport: Transport, steps: dict[str, Any], sbp: int, told: str
):
    started(transport, 4, **steps)
    transport.vitals(sbp=sbp, dbp=sbp // 2)
    expect(take("").page.locator("[data-part^='step-']")).to_contain_text(told)
    expect(sign_in("merrin", f"/cases/{transport.uid}/").locator(".ask[data-step='read_back']")).to_contain_text(told)


def test_at_the_goal_the_step_is_no_main_thing_and_cannot_be_pressed(
    take: Callable[[str], Phone], transport: Transport
):
    order, _ = started(transport, 4)
    transport.vitals(sbp=110, dbp=70)
    phone = take(f"orders/{order}/")

    expect(step_button(phone)).to_have_text(re.compile("At the goal: no step now"))
    expect(step_button(phone)).to_have_attribute("aria-disabled", "true")
    expect(step_button(phone)).to_have_class("quiet-big")
    expect(phone.page.locator(".stepping-next")).to_have_count(0)
    expect(phone.page.get_by_text("Time left")).to_have_count(0)
    expect(phone.open("orders/").page.locator("main")).not_to_contain_text("Step it up")


def test_what_is_held_is_not_to_be_stepped_up(take: Callable[[str], Phone], transport: Transport):
    transport.vitals(sbp=84, dbp=44)
    _, runs = started(transport, 4)
    page = take("orders/").page.locator("main")
    expect(page).to_contain_text("Step it up")
    change = {"status": "held", "at": clock.now()}
    interventions.change_intervention(transport.team.osk, UUID(runs), {"id": uuid4(), **change}, clock.now())

    expect(page).to_contain_text("Held: run it again first")
    expect(page).not_to_contain_text("Step it up")


def test_it_is_read_back_as_a_whole_from_the_pump(take: Callable[[str], Phone], transport: Transport):
    order = place(transport, clock.now())
    phone = take(f"orders/{order}/readback/")
    phone.page.locator("#drugs summary").filter(has_text="Infusions").click()
    phone.pick("norepinephrine infusion")
    phone.pick("IV")
    phone.pick("Dose")
    phone.type(**{"amount.value": 0.05})
    phone.page.locator('[name="amount.unit"][value="mcg/kg/min"]').locator("..").click()
    phone.pick("Yes, with steps")
    expect(phone.main).to_contain_text("Up by how much?")
    phone.type(**{"titrate.step.value": 0.05, "titrate.every_min": 5, "titrate.most.value": 0.15})
    phone.page.locator('[name="titrate.unit"][value="mcg/kg/min"]').locator("..").click()
    for box in ("titrate.step.value", "titrate.most.value", "titrate.call_at.value"):
        expect(phone.page.locator(f'.box:has([name="{box}"])')).to_contain_text("mcg/kg/min")
    phone.pick("MAP")
    phone.page.get_by_role("link", name="To the order").click()  # nobody has to know ten numbers by heart
    expect(phone.page.locator("main")).to_contain_text("Up by 0.05 mcg/kg/min every 3 min to MAP 65")
    phone.ready()
    phone.main.click()
    phone.page.wait_for_url("**/readback/")
    phone.ready()
    expect(phone.page.locator("main")).not_to_contain_text("every 3 min")
    expect(phone.main).to_contain_text("Up to which pressure?")  # all that was entered is there again
    phone.type(**{"titrate.goal.floor": 65})
    expect(phone.main).to_contain_text("Read the physician’s words back, too")
    phone.page.locator('[name="words_too"]').check()
    phone.main.click()

    expect(phone.outcome).to_contain_text("Does not match: minutes between steps")
    phone.page.get_by_role("button", name="Read back again").click()
    expect(phone.main).to_contain_text("At least how many minutes apart?")  # all else stays as it was typed
    phone.type(**{"titrate.every_min": 3})
    phone.main.click()

    expect(phone.outcome).to_contain_text("Read-back matches the order")
    assert Order.objects.get().state == "read_back"


@pytest.mark.parametrize(("verb", "action"), [("New rate", "change"), ("Hold it", "hold"), ("Stop it", "stop")])
def test_a_crew_asks_for_another_rate_a_pause_or_the_end_of_what_runs(
    take: Callable[[str], Phone], transport: Transport, verb: str, action: str
):
    _, runs = started(transport, 4)
    phone = take(f"change/{runs}/")
    phone.page.get_by_role("link", name="Ask medical control for a new rate").click()
    phone.ready()
    phone.pick(verb)
    if action == "change":
        phone.type(**{"amount.value": 30})
        phone.page.locator('[name="amount.unit"][value="mL/h"]').locator("..").click()
    phone.pick("Pressure still low")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")

    asked = Order.objects.order_by("-id").first()
    assert asked
    assert (asked.state, asked.data["action"], asked.data["intervention"]) == ("requested", action, runs)


def test_a_physician_orders_another_rate_of_what_runs_with_its_steps(sign_in: SignIn, transport: Transport):
    transport.vitals(sbp=84, dbp=44)
    _, runs = started(transport, 4)
    page = sign_in("merrin", f"/cases/{transport.uid}/")
    panel = page.locator(f"[data-part='runs-{runs}']")
    panel.get_by_role("button", name="New rate").click()
    form = panel.locator("form[data-name='change']")
    expect(form.locator("[name='amount.value']")).to_have_value("0.05")
    expect(form.locator("[name='amount.unit']")).to_have_value("mcg/kg/min")
    form.locator("[name='amount.value']").fill("30")
    form.locator("[name='amount.unit']").select_option("mL/h")
    found = form.locator("[data-findings]")
    expect(found).to_contain_text("0.1 mcg/kg/min = 30 mL/h of 16 mcg per mL")
    expect(found).to_contain_text("left in the bag: lasts 8 h")
    expect(found).not_to_contain_text("second one")
    form.locator("[name='amount.value']").fill("0.1")
    form.locator("[name='amount.unit']").select_option("mcg/kg/min")
    form.get_by_label("The crew may step it up without asking").check()
    for name, value in (("step.value", "0.1"), ("every_min", "5"), ("most.value", "20"), ("goal.floor", "65")):
        form.locator(f"[name='titrate.{name}']").fill(value)
    form.locator("[name='titrate.goal.measure']").select_option("map")
    expect(found).to_contain_text("Over a hard limit: the maximum: 20 mcg/kg/min is over")
    form.locator("[name='titrate.most.value']").fill("0.3")
    expect(found).to_contain_text("checked")
    expect(found).not_to_contain_text("Over a hard limit")
    form.locator("[name='reason']").fill("still low")
    form.get_by_role("button", name="Order the new rate").press("Enter")  # no pointer: the button has just moved

    expect(form).to_be_hidden()
    placed = Order.objects.order_by("-id").first()
    assert placed
    assert (placed.data["action"], placed.data["intervention"]) == ("change", runs)
    steps = "up by 0.1 mcg/kg/min every 5 min to MAP 65, most 0.3 mcg/kg/min"
    assert steps in placed.data["shown"]
    expect(page.locator(".ask-what").filter(has_text=steps)).to_be_visible()


def asked_with_steps(transport: Transport) -> None:
    at = clock.now()
    wanted = {"id": uuid4(), "at": at, "reason": "low", **START, "titrate": STEPS}
    orders.request_order(transport.team.osk, transport.uid, wanted, at)


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        ("", "up by 0.05 mcg/kg/min every 3 min to MAP 65, most 0.15 mcg/kg/min"),
        ("most", "up by 0.05 mcg/kg/min every 3 min to MAP 65, most 0.1 mcg/kg/min"),
        ("none", None),
    ],
)
def test_the_steps_of_a_request_are_in_sight_when_it_is_changed(
    sign_in: SignIn, transport: Transport, edit: str, told: str | None
):
    transport.vitals(sbp=84, dbp=44)
    asked_with_steps(transport)
    page = sign_in("merrin", f"/cases/{transport.uid}/")
    page.get_by_role("button", name="Change", exact=True).click()
    form = page.locator(".ask form[data-name='change']")
    for name, value in (("step.value", "0.05"), ("every_min", "3"), ("most.value", "0.15"), ("goal.floor", "65")):
        expect(form.locator(f"[name='titrate.{name}']")).to_have_value(value)
    expect(form.locator("[name='amount.value']")).to_have_value(
        "0.05"
    )  # to lower the most alone, no rate is typed anew
    expect(form.locator("[name='amount.unit']")).to_have_value("mcg/kg/min")
    form.locator("[name='amount.value']").fill("2.4")  # 0.03 mcg/kg/min of 80 kg: the steps keep their own unit
    form.locator("[name='amount.unit']").select_option("mcg/min")
    if edit == "most":
        form.locator("[name='titrate.most.value']").fill("20")
        expect(form.locator("[data-findings]")).to_contain_text("Over a hard limit: the maximum: 20 mcg/kg/min is over")
        form.locator("[name='titrate.most.value']").fill("0.1")
    if edit == "none":
        form.get_by_label("The crew may step it up without asking").uncheck()
        expect(form.locator("[name='titrate.most.value']")).to_be_hidden()
    form.locator("[name='reason']").fill("carefully")
    expect(form.locator("[data-findings]")).not_to_contain_text("Over a hard limit")
    form.get_by_role("button", name="Order the changed dose").press("Enter")

    expect(form).to_be_hidden()
    decided = Order.objects.get()
    assert (decided.state, decided.data["amount"]["unit"]) == ("approved", "mcg/min")
    assert told in decided.data["shown"] if told else "up by" not in decided.data["shown"]
    assert "up by 0.05" in decided.data["asked_for"]


@pytest.mark.parametrize(("verb", "send"), [("Hold", "Order to hold it"), ("Stop", "Order to stop it")])
def test_a_physician_holds_or_stops_what_runs(sign_in: SignIn, transport: Transport, verb: str, send: str):
    _, runs = started(transport, 4)
    page = sign_in("merrin", f"/cases/{transport.uid}/")
    panel = page.locator(f"[data-part='runs-{runs}']")
    panel.get_by_role("button", name=verb, exact=True).click()
    panel.get_by_role("button", name=send).click()

    expect(page.locator(".ask-what").filter(has_text=f"{verb.lower()} norepinephrine infusion")).to_be_visible()
    assert Order.objects.order_by("-id").values_list("data__action", flat=True)[0] == verb.lower()


@pytest.mark.night
def test_a_series_is_ordered_from_the_form(sign_in: SignIn, transport: Transport):
    transport.vitals(sbp=84, dbp=44)
    page = sign_in("merrin", f"/cases/{transport.uid}/")
    page.get_by_role("button", name="Order from the rules").click()
    form = page.locator("form[data-name='order']")
    form.get_by_label("Treatment").select_option("epinephrine-push-dose")
    form.locator("[name='amount.value']").fill("10")
    form.locator("[name='amount.unit']").select_option("mcg")
    form.locator("[name='route']").select_option("IV")
    form.locator("[name='repeat.times']").fill("3")
    form.locator("[name='repeat.every_min']").fill("2")
    form.get_by_role("button", name="Order for").click()

    expect(page.locator(".ask-how")).to_contain_text(["up to 3 doses, at least 2 min apart"])
    assert Order.objects.get().data["repeat"] == {"times": 3, "every_min": 2}
