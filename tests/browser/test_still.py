"""What one points at stays where it is: nothing is acknowledged or approved that only just came under the pointer."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from consult.models import Alert, Order
from tests.browser.conftest import SignIn, Transport
from tests.browser.test_order_of_cards import Two

TAKEN = re.compile(r"acknowledged \d\d:\d\d by Dr. Merrin")
PLACES = {"board": "/board/", "case page": "/cases/{case}/"}
everywhere = pytest.mark.parametrize("path", PLACES.values(), ids=PLACES)


@pytest.fixture
def two_alerts(transport: Transport) -> Transport:
    """A critical pressure, and a dose beyond the limits: its alert is over as soon as somebody acknowledges it."""
    transport.vitals(sbp=74, dbp=44, bp_method="cuff")
    transport.give(100)
    return transport


def opened(sign_in: SignIn, transport: Transport, path: str, **how: Any) -> Page:
    page = sign_in("merrin", path.format(case=transport.uid), **how)
    expect(page.locator("#live-word")).to_have_text("Live")
    return page


def posted(page: Page, to: str) -> list[str]:
    """What the page posts to addresses that end so, from now on."""
    sent: list[str] = []
    page.on("request", lambda call: sent.append(call.url) if call.method == "POST" and call.url.endswith(to) else None)
    return sent


def box(place: Locator) -> dict[str, float]:
    expect(place).to_be_visible()
    found = place.bounding_box() or place.bounding_box()  # the page may draw it anew at that very moment
    assert found
    return dict(found)


def point_at(page: Page, place: Locator, down: float = 0.5) -> None:
    found = box(place)
    page.mouse.move(found["x"] + found["width"] / 2, found["y"] + found["height"] * down)


def press(page: Page) -> None:
    """Where the pointer is."""
    page.mouse.down()
    page.mouse.up()


def hold_time(page: Page) -> None:
    """From now on the page's time runs only as far as it is told: a pointer that rests for 3 s points no more."""
    page.clock.pause_at(page.evaluate("Date.now()") / 1000 + 1)


def acknowledged() -> int:
    return Alert.objects.filter(acknowledged_at__isnull=False).count()


@everywhere
def test_an_acknowledged_alert_keeps_its_place_and_a_double_press_takes_no_other(
    path: str, two_alerts: Transport, sign_in: SignIn
):
    """Both alerts, the one that stays open and the one that ends by it."""
    page = opened(sign_in, two_alerts, path)
    sent = posted(page, "/acknowledge/")
    for number, alarm in enumerate(page.locator(".alarm").all()[: 1 if path == "/board/" else 2], 1):
        shown = page.locator(f'[data-alert="{alarm.get_attribute("data-alert")}"]')
        place = box(shown)
        point_at(page, shown.get_by_role("button"))

        press(page)
        expect(shown).to_contain_text(TAKEN)
        press(page)

        expect(shown.get_by_role("button")).to_have_count(0)
        assert box(shown) == place
        assert (len(sent), acknowledged()) == (number, number)


@pytest.mark.night
def test_once_the_pointer_has_left_the_next_alert_comes_to_the_front(two_alerts: Transport, sign_in: SignIn):
    page = opened(sign_in, two_alerts, "/board/")
    first = page.locator(".alarm").first
    was = first.get_attribute("data-alert")
    point_at(page, first.get_by_role("button"))
    press(page)
    expect(first).to_contain_text(TAKEN)
    assert first.get_attribute("data-alert") == was

    page.mouse.move(5, 5)

    expect(page.locator(".alarm").first).not_to_have_attribute("data-alert", was or "")
    expect(page.locator(".alarm").first.get_by_role("button")).to_be_visible()


def test_what_comes_under_a_resting_pointer_is_pressed_only_after_a_moment(two_alerts: Transport, sign_in: SignIn):
    """The pointer rests for a few seconds: the next alert comes, and the press that was on its way is not taken."""
    page = opened(sign_in, two_alerts, "/board/", clock=True)
    hold_time(page)
    first = page.locator(".alarm").first
    point_at(page, first.get_by_role("button"), down=0.95)  # where the next one's button comes to lie, too
    press(page)
    expect(first).to_contain_text(TAKEN)

    page.clock.fast_forward(3500)
    expect(first.get_by_role("button")).to_be_visible()
    press(page)
    expect(page.locator(".card")).to_contain_text("Not pressed: this has only just moved under the pointer.")
    assert acknowledged() == 1
    page.clock.fast_forward(1100)
    press(page)

    expect(page.locator(".alarm button:visible")).to_have_count(0)
    expect(page.locator("#count-high")).to_be_hidden()
    assert acknowledged() == 2


@pytest.mark.night
def test_by_keyboard_the_focus_stays_with_the_alert(two_alerts: Transport, sign_in: SignIn):
    page = opened(sign_in, two_alerts, "/board/")
    first = page.locator(".alarm").first
    page.keyboard.press("Tab")
    first.get_by_role("button").focus()
    page.keyboard.press("Enter")
    expect(first).to_contain_text(TAKEN)

    page.keyboard.press("Enter")

    expect(first).to_be_focused()
    assert acknowledged() == 1


def test_an_alert_that_comes_meanwhile_is_shown_at_once_behind(transport: Transport, sign_in: SignIn):
    for _ in range(2):
        transport.vitals(spo2=88)
    page = opened(sign_in, transport, "/board/")
    place = box(page.locator(".alarm"))
    point_at(page, page.locator(".alarm button"))

    transport.vitals(sbp=74, dbp=44, bp_method="cuff")

    expect(page.locator(".alarm:visible")).to_have_count(2)
    assert box(page.locator(".alarm").first) == place


def test_no_card_moves_up_under_the_pointer(team: Any, sign_in: SignIn):
    two = Two(team)
    two.vitals("Adder 1", sbp=60, dbp=30)
    page = sign_in("merrin", "/board/", size=(700, 900), clock=True)
    expect(page.locator("#live-word")).to_have_text("Live")
    first, second = page.locator(".card").all()
    expect(second).not_to_have_css("grid-row-end", "auto")
    hold_time(page)
    assert box(second)["y"] > box(first)["y"] + box(first)["height"], "one column"
    point_at(page, first.locator(".who-call"))
    place = box(second)  # from now on nothing moves up
    first.get_by_role("button", name=re.compile("^Take control")).click()
    first.get_by_role("button", name=re.compile("^Acknowledge")).click()
    expect(first).to_contain_text(TAKEN)
    point_at(page, second.locator(".map-value"))

    page.clock.run_for(1000)
    held = box(second)["y"]
    assert held >= place["y"]
    page.mouse.move(5, 5)
    page.clock.run_for(1000)
    assert box(second)["y"] < held


@everywhere
@pytest.mark.night
def test_an_approved_order_leaves_the_next_one_where_it_is(path: str, transport: Transport, sign_in: SignIn):
    for value in (30, 40):
        transport.ask(value)
    page = opened(sign_in, transport, path, clock=True)
    first, second = (page.locator(f'[data-order="{order.uid}"]') for order in Order.objects.order_by("seq"))
    for each in (first, second):
        expect(each).to_contain_text("in all with this dose")  # the check has come
    hold_time(page)
    place, sent = box(second), posted(page, "/decision/")

    first.locator(".ask-approve").click()
    expect(first).to_contain_text("not read back yet")
    press(page)

    assert box(second) == place
    assert len(sent) == 1
    assert [order.state for order in Order.objects.order_by("seq")] == ["approved", "requested"]
