"""The strip on every page, in sight wherever one scrolls: connection, HIGH alerts, what was escalated, sound."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from playwright.sync_api import Page, expect

from consult import access, clock
from consult.actions import accounts, alerts, cases, notes
from consult.models import Agency, Alert
from tests.browser.conftest import Board, SignIn, Transport
from tests.conftest import ADULT

PAGES = {"/board/": "averill", "/history/": "averill", "/rules/": "merrin"}


def live(sign_in: SignIn, path: str, who: str = "averill", size: tuple[int, int] = (1440, 900), **how: Any) -> Page:
    page = sign_in(who, path, size=size, **how)
    expect(page.locator("#live-word")).to_have_text("Live")
    return page


def below(page: Page) -> None:
    """Scroll to the end of a page that is made long enough for it."""
    page.locator("#main").evaluate("main => { main.style.minHeight = '3000px'; }")
    page.evaluate("scrollTo(0, 2000)")


@pytest.mark.parametrize("path", ["/board/", "/history/", "/rules/", "/history/{case}/", "/cases/{case}/"])
def test_every_page_counts_the_high_alerts_that_nobody_has_taken(path: str, transport: Transport, sign_in: SignIn):
    page = live(sign_in, path.format(case=transport.uid))
    high = page.locator("#count-high")
    expect(high).to_be_hidden()

    transport.vitals(sbp=74, dbp=44)

    expect(high).to_have_text("HIGH 1", timeout=20_000)
    below(page)
    expect(high).to_be_in_viewport()
    expect(page.locator("#sound")).to_be_in_viewport()


@pytest.mark.night
def test_a_phone_keeps_what_warns_in_sight_and_folds_the_rest(transport: Transport, sign_in: SignIn):
    page = live(sign_in, "/board/", size=(390, 844))
    transport.vitals(sbp=74, dbp=44)
    expect(page.locator("#count-high")).to_have_text("HIGH 1")
    below(page)

    expect(page.locator(".strip .tabs").first).to_be_hidden()
    for place in ("#live-word", "#count-high", "#sound"):
        expect(page.locator(place)).to_be_in_viewport()
    page.evaluate("scrollTo(0, 0)")
    expect(page.locator(".strip .tabs").first).to_be_visible()


@pytest.mark.night
def test_a_supervisor_on_a_replay_sees_what_was_escalated_to_her(transport: Transport, sign_in: SignIn):
    transport.vitals(sbp=74, dbp=44)
    page = live(sign_in, f"/history/{transport.uid}/")
    climbed = page.locator("#climbed a")
    expect(climbed).to_have_count(0)

    for minutes in (2, 4):  # first to the other physicians, then to the supervisor
        alerts.sweep(clock.now() + timedelta(minutes=minutes))

    expect(climbed).to_have_count(1)
    expect(climbed).to_contain_text("HIGH, escalated to you: Kestrel 2 A: ")
    climbed.click()
    expect(page).to_have_url(f"{page.url.split('/cases/')[0]}/cases/{transport.uid}/")


# Where an escalated alert of another case is told on a page, by what; the account's pages are allauth's.
TOLD_ON = {
    "/history/": "#climbed",
    "/history/{case}/": "#climbed",
    "/rules/": "#climbed",
    "/account/password/": "#climbed",
    "/board/": "#cards",
    "/cases/{case}/": "#climbed",
}


ESCALATED = [
    (path, place, who, steps)
    for path, place in TOLD_ON.items()
    for who, steps in (("quillan", (2,)), ("averill", (2, 4)))
    if who == "averill" or not path.startswith("/history/")  # no pages of physicians
]


@pytest.mark.parametrize(("path", "place", "who", "minutes"), ESCALATED)
def test_an_escalation_reaches_whom_it_is_for_on_whatever_page(
    path: str, place: str, who: str, minutes: tuple[int, ...], transport: Transport, sign_in: SignIn
):
    other = another_case(transport)
    page = live(sign_in, path.format(case=transport.uid), who)
    other.vitals(sbp=60, dbp=36)
    for each in minutes:
        alerts.sweep(clock.now() + timedelta(minutes=each))

    expect(page.locator(place)).to_contain_text("Plover 8", timeout=20_000)
    expect(page.locator(place)).to_contain_text(re.compile("escalated", re.IGNORECASE))


@pytest.mark.parametrize(("path", "who"), PAGES.items())
def test_a_silent_server_is_told_where_one_has_scrolled_to(
    path: str, who: str, board: Board, transport: Transport, sign_in: SignIn
):
    page = live(sign_in, path, who, clock=True)
    below(page)

    board.freeze()
    page.clock.fast_forward(10_000)

    expect(page.locator("#live-word")).to_contain_text("Not live")
    expect(page.locator("#live-word")).to_be_in_viewport()


@pytest.mark.night
def test_after_a_reload_the_page_asks_for_the_sound_that_was_on(transport: Transport, sign_in: SignIn):
    page = live(sign_in, "/board/", "merrin")
    button = page.locator("#sound")
    button.click()
    expect(button).to_have_text("Sound on")

    page.reload()

    expect(button).to_have_text("Turn sound on")
    expect(button).to_have_attribute("data-asks", "")
    button.click()
    expect(button).to_have_text("Sound on")
    page.goto(f"{page.url.split('/board/')[0]}/rules/")
    expect(page.locator("#sound")).to_have_text("Turn sound on")


@pytest.mark.night
def test_where_nobody_wanted_sound_nothing_is_asked(transport: Transport, sign_in: SignIn):
    page = live(sign_in, "/board/", "merrin")

    expect(page.locator("#sound")).to_have_text("Sound off")
    expect(page.locator("#sound")).not_to_have_attribute("data-asks", "")


def test_a_case_page_tells_at_once_what_another_case_needs(transport: Transport, sign_in: SignIn):
    other = another_case(transport)
    page = live(sign_in, f"/cases/{transport.uid}/", "merrin")
    page.wait_for_load_state("networkidle")
    page.route("**/parts/**", lambda route: route.abort())  # what the page asks for by itself from time to time

    other.vitals(sbp=60, dbp=36)
    expect(page.locator("#count-high")).to_have_text("HIGH 1")
    expect(page.locator("#others")).to_contain_text("Plover 8")

    alert = Alert.objects.get(case__uid=other.uid, priority="high")
    alerts.acknowledge(other.team.merrin, alert.uid, {}, clock.now())
    expect(page.locator("#count-high")).to_be_hidden()


def test_a_case_page_sounds_for_a_high_alert_of_another_case(transport: Transport, sign_in: SignIn):
    other = another_case(transport)
    page = live(sign_in, f"/cases/{transport.uid}/", "merrin")
    listen(page)

    other.vitals(sbp=60, dbp=36)

    expect(page.locator("#count-high")).to_have_text("HIGH 1")
    expect(page.locator("html")).to_have_attribute("data-toned", "yes")


def listen(page: Page) -> None:
    """Turn the sound on, and note on the page when a tone is made."""
    page.evaluate("""() => {
      const make = AudioContext.prototype.createOscillator;
      AudioContext.prototype.createOscillator = function () {
        document.documentElement.dataset.toned = "yes";
        return make.call(this);
      };
    }""")
    page.locator("#sound").click()
    expect(page.locator("#sound")).to_have_text("Sound on")


@pytest.mark.parametrize("path", ["/board/", "/rules/", "/cases/{case}/"])
def test_an_arrest_is_counted_named_and_sounds_as_it_begins(path: str, transport: Transport, sign_in: SignIn):
    other = another_case(transport)
    page = live(sign_in, path.format(case=transport.uid), "merrin")
    listen(page)

    arrest(other)

    expect(page.locator("#count-high")).to_have_text("HIGH 1")
    expect(page.locator("html")).to_have_attribute("data-toned", "yes")
    if path != "/board/":
        expect(page.locator("#climbed")).to_have_text("Plover 8: cardiac arrest")


@pytest.mark.parametrize("size", [(1440, 900), (390, 844)])
def test_a_case_page_keeps_its_own_patient_in_sight_and_folds_the_others(
    size: tuple[int, int], transport: Transport, sign_in: SignIn
):
    for unit in ("Plover 8", "Wren 5", "Finch 6"):
        arrest(another_case(transport, unit))
    page = live(sign_in, f"/cases/{transport.uid}/", "merrin", size)
    folds = page.locator("#others details, #climbed details")

    expect(folds).to_have_count(2)
    for fold in folds.all():
        expect(fold.locator("summary")).to_contain_text(re.compile("^3 other|[+]2 more"))
        expect(fold.locator("a").first).to_be_hidden()
    page.locator("#case").evaluate("(whole) => { whole.style.minHeight = '3000px'; scrollTo(0, 2000); }")
    bar = page.locator(".patient")
    expect(bar).to_be_in_viewport()
    for said in ("Kestrel 2", "58 y male", "80 kg", "No allergies recorded"):
        expect(bar).to_contain_text(said)
    under = bar.evaluate("bar => bar.getBoundingClientRect().bottom")
    assert under < 190, "what stands still leaves the page to this patient"
    page.locator("#climbed summary").click()
    expect(page.locator("#climbed a")).to_have_count(3)
    expect(page.locator("#climbed a").first).to_be_visible()


def arrest(of: Transport) -> None:
    now = clock.now()
    notes.change_phase(of.team.osk, of.uid, {"id": uuid4(), "at": now, "phase": "arrest"}, now)


def another_case(transport: Transport, unit: str = "Plover 8") -> Transport:
    """An open case of another unit of the same agency."""
    agency = Agency.objects.get(pk=transport.team.osk.agency)
    crew = accounts.make_member(agency, "crew", unit=accounts.make_unit(agency, unit), name="B. Lund")
    now = clock.now()
    data = {"id": uuid4(), "opened_at": now, "patient": ADULT, "complaint": "faint"}
    cases.open_case(access.actor_of_membership(crew), data, now)
    return Transport(replace(transport.team, osk=access.actor_of_membership(crew)), data["id"])
