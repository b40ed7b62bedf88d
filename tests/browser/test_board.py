"""The board in a browser: live cards, decisions in place, alerts by name, and a lost link that nobody can overlook."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect

from consult import clock
from consult.actions import alerts, rule_sets
from consult.models import Alert
from dosing.load.reader import load_shipped
from tests.browser.conftest import Board, SignIn, Transport
from tests.copying import replace

LIVE = re.compile("^Live$")


def live_board(sign_in: SignIn, who: str = "merrin", clock: bool = False) -> Page:
    page = sign_in(who, "/board/", clock=clock)
    expect(page.locator("#live-word")).to_have_text(LIVE)
    return page


def test_a_reading_appears_on_an_open_board(transport: Transport, sign_in: SignIn):
    page = live_board(sign_in)

    transport.vitals(sbp=96, dbp=44, hr=128)

    expect(page.locator(".map-value")).to_have_text("61")
    expect(page.locator(".map-head time")).to_contain_text("s ago")
    expect(page.locator(".vital-value").first).to_have_text("96/44 mmHg")


def test_a_physician_approves_the_waiting_request_and_the_card_says_so(transport: Transport, sign_in: SignIn):
    transport.vitals(sbp=74, dbp=44)
    transport.ask(30)
    page = live_board(sign_in)

    page.get_by_role("button", name="Approve for Kestrel 2 A: EPINEPHrine push dose 30 mcg IV").click()

    panel = page.locator(".ask[data-step='approved']")
    expect(panel).to_contain_text("not read back yet")
    expect(panel).to_contain_text("by Dr. Merrin")
    expect(page.locator(".ask-approve")).to_have_count(0)


def _within_the_board(page: Page) -> list[float]:
    """Where the card stands below the page's head, which may still be settling, and its size."""
    return page.locator(".card").evaluate(  # type: ignore[no-any-return]
        "card => [card.offsetTop - card.parentElement.offsetTop, card.offsetWidth, card.offsetHeight]"
    )


def test_a_change_needs_amount_unit_and_reason_and_a_refusal_stands_beside_them(transport: Transport, sign_in: SignIn):
    transport.ask(30)
    page = live_board(sign_in)
    place = _within_the_board(page)
    page.get_by_role("button", name="Change").click()
    form = page.locator("form[data-name='change']")
    assert _within_the_board(page)[:2] == place[:2], "the card stays where it is and gets higher"
    expect(form.locator("[name='amount.value']")).to_be_focused()
    form.locator("[name='amount.value']").fill("290")
    form.locator("[name='amount.unit']").select_option("mcg")
    form.locator("[name='reason']").fill("titrate")

    form.get_by_role("button", name="Order the changed dose for Kestrel 2 A").click()

    expect(form.locator(".problem")).to_contain_text("mcg")
    expect(form.locator("[name='amount.value']")).to_have_value("290")
    form.locator("[name='amount.value']").fill("20")
    form.get_by_role("button", name="Order the changed dose for Kestrel 2 A").click()
    expect(page.locator(".ask[data-step='approved'] .ask-what")).to_contain_text("20 mcg")


def test_a_board_that_is_open_names_the_rule_set_that_is_adopted(transport: Transport, sign_in: SignIn):
    page = live_board(sign_in)
    expect(page.locator("#rules-tag")).to_contain_text("Demonstration rules")
    director = replace(transport.team.merrin, role="director")

    rule_sets.adopt(director, load_shipped("conservative"), clock.now(), reason="", by_way_of="page")

    expect(page.locator("#rules-tag")).to_have_text(re.compile("^Rules conservative"))
    expect(page.locator("#rules-caution")).not_to_contain_text("until a medical director adopts")


def test_a_query_stops_the_waiting_clock(transport: Transport, sign_in: SignIn):
    transport.ask(30)
    page = live_board(sign_in)
    page.get_by_role("button", name="Query").click()
    page.locator("form[data-name='ask'] textarea").fill("Lungs since the first bolus?")

    page.get_by_role("button", name="Send query to Kestrel 2 A").click()

    expect(page.locator(".ask")).to_contain_text("Lungs since the first bolus?")
    expect(page.locator(".ask-head")).to_contain_text(re.compile(r"timer paused, \d:\d\d left"))


def test_who_comes_second_is_told_who_decided(transport: Transport, sign_in: SignIn):
    order = transport.ask(30)
    page = live_board(sign_in)
    page.get_by_role("button", name="Decline").click()
    form = page.locator("form[data-name='decline']")
    form.locator("textarea").fill("not now")

    transport.decide(order, transport.team.quillan, decision="decline", reason="fluid first")

    expect(form.locator(".problem")).to_contain_text("The order was declined by Dr. Quillan at")
    expect(form.locator("textarea")).to_have_value("not now")


def test_an_alert_is_shown_and_acknowledged_by_name(transport: Transport, sign_in: SignIn):
    page = live_board(sign_in)
    transport.vitals(sbp=74, dbp=44)
    alarm = page.locator(".alarm")
    expect(alarm).to_have_attribute("data-priority", "high")
    expect(page.locator("[data-filter='needs'] b")).to_have_text("1")

    alarm.get_by_role("button", name="Acknowledge").click()

    expect(alarm).to_have_attribute("data-state", "acknowledged")
    expect(alarm).to_contain_text(re.compile(r"acknowledged \d\d:\d\d by Dr. Merrin"))
    expect(page.locator("[data-filter='needs'] b")).to_have_text("0")
    expect(page.locator(".card")).not_to_have_attribute("data-alarm", "high")


@pytest.mark.night
def test_a_supervisor_acknowledges_but_does_not_decide(transport: Transport, sign_in: SignIn):
    transport.vitals(sbp=74, dbp=44)
    transport.ask(30)
    page = live_board(sign_in, "averill")

    for name in ("Approve", "Change", "Query", "Decline"):
        expect(page.get_by_role("button", name=re.compile(f"^{name}"))).to_be_disabled()
    expect(page.get_by_role("button", name="Acknowledge").first).to_be_enabled()


def test_what_is_being_typed_survives_new_readings(transport: Transport, sign_in: SignIn):
    transport.ask(30)
    page = live_board(sign_in)
    page.get_by_role("button", name="Decline").click()
    reason = page.locator("form[data-name='decline'] textarea")
    reason.fill("fluid fir")

    transport.vitals(sbp=96, dbp=44)

    expect(page.locator(".map-value")).to_have_text("61")
    expect(reason).to_be_focused()
    page.keyboard.type("st")
    expect(reason).to_have_value("fluid first")


def test_a_silent_server_is_unmistakable_within_ten_seconds(board: Board, transport: Transport, sign_in: SignIn):
    transport.vitals(sbp=96, dbp=44)
    transport.ask(30)
    page = live_board(sign_in, clock=True)

    board.freeze()
    page.clock.fast_forward(10_000)

    expect(page.locator("#live-word")).to_contain_text("Not live. Last update")
    expect(page.locator("#strip")).to_have_attribute("data-live", "lost")
    page.locator(".ask-approve").click()
    expect(page.locator(".ask > .problem")).to_contain_text("nothing was sent")
    board.thaw()
    expect(page.locator("#live-word")).to_have_text(LIVE, timeout=15_000)


def test_what_happened_while_the_link_was_lost_is_there_after_it(board: Board, transport: Transport, sign_in: SignIn):
    page = live_board(sign_in, clock=True)
    board.freeze()
    page.clock.fast_forward(10_000)
    expect(page.locator("#strip")).to_have_attribute("data-live", "lost")

    transport.vitals(sbp=96, dbp=44)
    board.thaw()

    expect(page.locator(".map-value")).to_have_text("61", timeout=15_000)


def test_a_case_that_ends_leaves_the_board_once_nobody_points_at_it(transport: Transport, sign_in: SignIn):
    from uuid import uuid4

    from consult import clock
    from consult.actions import cases

    page = live_board(sign_in)
    expect(page.locator(".card")).to_have_count(1)

    cases.close(transport.team.merrin, transport.uid, {"id": uuid4(), "outcome": "handed_over"}, clock.now())

    expect(page.locator(".card")).to_have_count(0)
    expect(page.locator("#empty")).to_be_visible()


@pytest.mark.night
def test_density_is_kept_for_the_next_visit(transport: Transport, sign_in: SignIn):
    page = live_board(sign_in)

    page.get_by_role("button", name="Dense").click()
    page.reload()

    expect(page.locator("#cards")).to_have_attribute("data-density", "dense")


@pytest.mark.parametrize(("label", "visible"), [("My cases", 0), ("No physician", 1), ("Need you", 1)])
@pytest.mark.night
def test_filters_show_the_cards_they_name(transport: Transport, sign_in: SignIn, label: str, visible: int):
    transport.vitals(sbp=74, dbp=44)
    page = live_board(sign_in)

    page.get_by_role("button", name=re.compile(f"^{label}")).click()

    expect(page.locator(".card:visible")).to_have_count(visible)


def test_the_sound_is_off_until_switched_on_and_can_be_paused(transport: Transport, sign_in: SignIn):
    page = live_board(sign_in)
    button = page.locator("#sound")
    expect(button).to_have_text("Sound off")

    button.click()
    expect(button).to_have_text("Sound on")
    button.click()

    expect(button).to_contain_text(re.compile(r"Sound paused [12]:\d\d"))


def test_a_board_without_alert_checks_says_so_until_they_run_again(transport: Transport, sign_in: SignIn):
    """No worker runs beside these tests; what a tick tells is enough, for behind the proxy /readyz is not there."""
    alerts.sweep(clock.now() - timedelta(seconds=31))
    page = live_board(sign_in)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    said = "Alert checks have stopped: alerts may be late. Check times; use the radio."
    notice = page.get_by_text(said)

    expect(notice).to_be_visible(timeout=8_000)
    alerts.sweep(clock.now())
    expect(notice).to_be_hidden(timeout=8_000)

    assert [url for url in asked if "readyz" in url] == []


def test_an_alarm_is_announced_to_a_screen_reader_once(transport: Transport, sign_in: SignIn):
    page = live_board(sign_in)

    transport.vitals(sbp=74, dbp=44)

    expect(page.locator("#announce-now")).to_contain_text("Kestrel 2 A: High: ")
    expect(page.locator("#announce-now")).to_have_attribute("role", "alert")


@pytest.mark.night
def test_with_a_second_alert_open_in_the_list_a_new_reading_does_not_close_it(transport: Transport, sign_in: SignIn):
    page = live_board(sign_in)
    transport.vitals(sbp=74, dbp=44)
    transport.give(60)
    alerts.acknowledge(transport.team.merrin, Alert.objects.get(kind="low_pressure").uid, {}, clock.now())
    page.locator(".alarm-more > summary").click()

    transport.vitals(sbp=76, dbp=44)

    expect(page.locator(".map-value")).to_have_text("55")
    expect(page.locator(".alarm-more .alarm")).to_be_visible()


@pytest.mark.night
def test_a_session_that_has_ended_leads_back_to_the_sign_in_page(transport: Transport, sign_in: SignIn):
    from consult import clock
    from consult.actions import accounts
    from consult.models import Membership

    page = live_board(sign_in)

    accounts.end_membership(Membership.objects.get(pk=transport.team.merrin.membership), clock.now())

    expect(page).to_have_url(re.compile("/(sign-in|choose)/"), timeout=8_000)
