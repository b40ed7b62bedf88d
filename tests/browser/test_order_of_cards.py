"""Cards move by need, but never under the pointer."""

from __future__ import annotations

import re
from uuid import uuid4

import pytest
from playwright.sync_api import Page, expect

from consult import access, clock
from consult.actions import accounts, cases, notes, vitals
from consult.models import User
from tests.browser.conftest import SignIn, Team


class Two:
    """Two transports at goal: Adder 1 and Bittern 5, so that Adder stands first until Bittern falls."""

    def __init__(self, team: Team) -> None:
        agency = accounts.make_agency("Brindle Vale Medical Control")
        self.crews, self.cases = {}, {}
        for call_sign in ("Adder 1", "Bittern 5"):
            user = User.objects.create(username=call_sign, first_name=call_sign, last_name="crew")
            accounts.make_member(agency, "crew", user=user, unit=accounts.make_unit(agency, call_sign))
            self.crews[call_sign] = access.actor_for_user(user, None, clock.now())
            self.cases[call_sign] = uuid4()
            patient = {"age": None, "weight": None}
            opened = {"id": self.cases[call_sign], "opened_at": clock.now(), "patient": patient}
            cases.open_case(self.crews[call_sign], opened, clock.now())
            self.vitals(call_sign, sbp=120, dbp=70)

    def vitals(self, call_sign: str, **values: float) -> None:
        now = clock.now()
        data = {"id": uuid4(), "taken_at": now, **values}
        vitals.record_vitals(self.crews[call_sign], self.cases[call_sign], data, now)


@pytest.fixture
def two(team: Team) -> Two:
    return Two(team)


@pytest.fixture
def page(two: Two, sign_in: SignIn) -> Page:
    page = sign_in("merrin", "/board/")
    expect(page.locator("#live-word")).to_have_text("Live")
    expect(page.locator(".who-call a")).to_have_text(["Adder 1", "Bittern 5"])
    return page


def test_a_card_that_needs_a_person_moves_to_the_front(two: Two, page: Page):
    two.vitals("Bittern 5", sbp=60, dbp=30)

    expect(page.locator(".who-call a")).to_have_text(["Bittern 5", "Adder 1"])


def test_under_the_pointer_nothing_moves_until_it_leaves(two: Two, page: Page):
    page.locator(".card").first.hover()

    two.vitals("Bittern 5", sbp=60, dbp=30)

    expect(page.locator("#cue")).to_have_text("Move 1 up")
    expect(page.locator(".who-call a")).to_have_text(["Adder 1", "Bittern 5"])
    expect(page.locator(".card").nth(1).locator(".map-value")).not_to_have_text("87"), "values still update in place"
    page.locator("#live-word").hover()
    expect(page.locator(".who-call a")).to_have_text(["Bittern 5", "Adder 1"])
    expect(page.locator("#cue")).to_be_hidden()


@pytest.mark.night
def test_the_cue_applies_the_new_order_when_pressed(two: Two, page: Page):
    page.locator(".card").first.locator("a").first.focus()
    two.vitals("Bittern 5", sbp=60, dbp=30)

    page.locator("#cue").click()

    expect(page.locator(".who-call a")).to_have_text(["Bittern 5", "Adder 1"])


@pytest.mark.night
def test_a_case_opened_meanwhile_appears_without_moving_the_others(two: Two, page: Page):
    page.locator(".card").first.hover()

    data = {"id": uuid4(), "opened_at": clock.now(), "patient": {"age": None, "weight": None}}
    cases.open_case(two.crews["Adder 1"], data, clock.now())

    expect(page.locator(".card")).to_have_count(3)
    expect(page.locator(".who-call a").first).to_have_text("Adder 1")


def test_a_case_in_cardiac_arrest_goes_before_every_other_and_counts_as_high(two: Two, page: Page):
    two.vitals("Adder 1", sbp=60, dbp=30)
    expect(page.locator("#count-high")).to_have_text("HIGH 1")

    now = clock.now()
    notes.change_phase(
        two.crews["Bittern 5"], two.cases["Bittern 5"], {"id": uuid4(), "at": now, "phase": "arrest"}, now
    )

    expect(page.locator(".who-call a")).to_have_text(["Bittern 5", "Adder 1"])
    expect(page.locator("#count-high")).to_have_text("HIGH 2")
    first = page.locator(".card").first
    expect(first).to_have_attribute("data-alarm", "high")
    expect(first.locator(".alarm").first).to_contain_text(re.compile(r"ARREST for \d+ (s|min)"))
