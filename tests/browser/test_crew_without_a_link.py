"""The crew's pages without a link, after a reload and in a page opened anew: all of an open case, and no more."""

from __future__ import annotations

import re
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import cases, notes
from consult.models import Case, Intervention, Note, Vitals
from tests.browser.conftest import Board, SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone

PUSH = "give/epinephrine-push-dose/"
ARREST = "give/epinephrine-arrest/"
PAGES = ["", "vitals/", "give/", PUSH, "orders/", "note/", "procedure/", "handover/"]
# Each waits in the page itself, whose walls let no driver wait there: for the worker, for pages kept or dropped.
CONTROLLED = """async () => {
  await navigator.serviceWorker.ready;
  while (!navigator.serviceWorker.controller) await new Promise((look) => setTimeout(look, 50));
}"""
KEPT = """async ([paths, wanted]) => {
  const kept = (path) => caches.match(new URL(path, location.href).href, { ignoreVary: true });
  const found = async () => (await Promise.all(paths.map(kept))).every((page) => Boolean(page) === wanted);
  while (!(await found())) await new Promise((look) => setTimeout(look, 50));
}"""
NONE = """async () => {
  const ours = async () => (await caches.keys()).filter((name) => name.startsWith("crew-pages-")).length;
  while (await ours()) await new Promise((look) => setTimeout(look, 50));
}"""
WITHOUT = """async (path) => {
  for (const name of await caches.keys()) await (await caches.open(name)).delete(path, { ignoreVary: true });
}"""


def until(phone: Phone, *paths: str, kept: bool = True) -> None:
    """Wait until these pages of the case are kept, or dropped."""
    phone.page.evaluate(KEPT, [[f"/crew/{phone.case}/{path}" for path in paths], kept])


@pytest.fixture
def phone(sign_in: SignIn, transport: Transport) -> Phone:
    """On the case's page, until that and the next are kept."""
    transport.vitals(sbp=74, dbp=44)
    page = sign_in("osk", f"/crew/{transport.uid}/", service_workers="allow", **PHONE)
    taken = Phone(page, str(transport.uid)).ready()
    page.evaluate(CONTROLLED)
    until(taken, "", "vitals/", "note/")
    return taken


def cut(phone: Phone) -> None:
    phone.page.context.set_offline(True)
    expect(phone.link).to_contain_text("Offline")


def mend(phone: Phone) -> None:
    phone.page.context.set_offline(False)
    phone.page.evaluate("dispatchEvent(new Event('online'))")


def phase(transport: Transport, name: str) -> None:
    now = clock.now()
    notes.change_phase(transport.team.osk, transport.uid, {"id": uuid4(), "phase": name, "at": now}, now)


def give(phone: Phone) -> None:
    phone.pick("IV")
    phone.dose("10 mcg")
    for step in phone.page.locator(".recipe input:visible").all():
        step.check()
    phone.main.click()
    if "Sure?" in phone.main.inner_text():
        phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")


def test_each_page_opens_after_a_reload_and_what_is_entered_arrives_once(phone: Phone):
    until(phone, *PAGES)
    cut(phone)
    phone.page.reload()
    for path in PAGES:
        phone.open(path)
        expect(phone.page.locator("#kept")).to_contain_text("Offline")
        expect(phone.page.locator(".patient")).to_contain_text("Kestrel 2")
        expect(phone.link).to_contain_text("Offline")
    phone.open("vitals/").pick("Cuff")
    phone.type(sbp=80, dbp=50)
    phone.main.click()
    expect(phone.outcome).to_contain_text("Kept on this phone")
    closed, phone.page = phone.page, phone.page.context.new_page()
    phone.page.goto(closed.url)
    closed.close()
    give(phone.open(PUSH))
    phone.open("note/").page.locator("textarea").fill("in the tunnel")
    phone.main.click()
    expect(phone.link).to_have_text("Offline: 3 waiting")

    mend(phone)
    expect(phone.link).to_have_text("All sent", timeout=20_000)
    assert [row.data["sbp"] for row in Vitals.objects.order_by("seq")] == [74, 80]
    assert (Intervention.objects.count(), Note.objects.get().text) == (1, "in the tunnel")
    expect(phone.page.locator("#kept a")).to_have_text("Back online: show the latest")
    phone.open("vitals/")
    expect(phone.page.locator("#kept")).to_have_count(0)


@pytest.mark.night
def test_what_starts_by_order_can_be_recorded_as_given(phone: Phone):
    """Its line leads to the request; whoever started it without a link finds the page for that, too."""
    request = "orders/request/?treatment=norepinephrine-infusion"
    until(phone, request, "give/norepinephrine-infusion/")
    cut(phone)
    phone.open(request).page.get_by_role("link", name="already given").click()
    phone.page.wait_for_url("**/give/norepinephrine-infusion/")
    phone.ready().page.locator("#already > summary").click()

    expect(phone.main).to_contain_text("Choose route and rate")


@pytest.mark.night
def test_with_a_link_no_kept_page_is_shown(phone: Phone, transport: Transport):
    transport.vitals(sbp=96, dbp=60)
    phone.open()
    expect(phone.page.locator("#kept")).to_have_count(0)
    expect(phone.page.locator("main")).to_contain_text("96/60")


def test_what_is_kept_counts_the_doses_of_this_phone(phone: Phone):
    until(phone, PUSH)
    cut(phone)
    give(phone.open(PUSH))
    phone.open(PUSH)
    expect(phone.page.locator("#left-text")).to_contain_text("with 1 dose from this phone")


@pytest.mark.night
def test_what_cannot_be_opened_says_so_before_it_is_pressed(phone: Phone):
    phone.page.evaluate(WITHOUT, f"/crew/{phone.case}/note/")
    cut(phone)
    note = phone.page.locator(f'a[href="/crew/{phone.case}/note/"]').first
    expect(note).to_have_attribute("data-off", "")
    expect(phone.page.get_by_role("link", name="Vitals").first).not_to_have_attribute("data-off", "")
    note.click()
    expect(phone.page.locator("#held")).to_contain_text("cannot be opened now")


class TestTheNewestPressure:
    """What was entered on this phone stands in place of what the kept page was told, and so does what it warns of."""

    PAGES = ["", "give/", PUSH, "note/"]

    @pytest.fixture
    def kept(self, phone: Phone) -> Phone:
        until(phone, *self.PAGES)
        return phone

    def measure(self, phone: Phone, sbp: int, dbp: int, outcome: str, **more: int) -> None:
        phone.open("vitals/").type(sbp=sbp, dbp=dbp, **more)
        phone.main.click()
        expect(phone.outcome).to_contain_text(outcome)

    def test_one_that_waits_here_stands_and_is_marked(self, kept: Phone):
        """95/60 is a MAP of (95 + 2 x 60) / 3 = 71.7; 74/44 was 54, under the 60 that are critical."""
        high = kept.page.locator('[data-part="high"] p')
        expect(kept.open("note/").page.locator('[data-part="high"]')).to_contain_text("MAP critical")
        cut(kept)
        self.measure(kept, 95, 60, "Kept on this phone", hr=118, spo2=93)
        for path, place in (("give/", "last"), (PUSH, "last"), ("", "now")):
            part = kept.open(path).page.locator(f'[data-part="{place}"]')
            expect(part).to_contain_text(re.compile("72.*kept on this phone"))
            expect(part).not_to_contain_text("54")
        for key, value in (("bp", "95/60 mmHg"), ("hr", "118 /min"), ("spo2", "93 %")):
            line = re.compile(rf"^{value} \d+ s ago · this phone$")
            expect(kept.page.locator(f'[data-measured="{key}"]')).to_have_text(line)
        for path in self.PAGES:
            kept.open(path)
            expect(kept.page.locator("#kept")).to_contain_text("newer is only what is marked “this phone”")
            expect(high.locator("visible=true")).to_have_count(0)
            expect(kept.page.locator(".alarm[data-of-pressure]:visible")).to_have_count(0)

    @pytest.mark.night
    def test_one_that_was_sent_before_stands_too(self, kept: Phone):
        self.measure(kept, 95, 60, "Sent")
        cut(kept)
        expect(kept.open(PUSH).page.locator('[data-part="last"]')).to_contain_text("72")

    @pytest.mark.night
    def test_a_worse_one_warns_on_every_page(self, kept: Phone):
        cut(kept)
        self.measure(kept, 60, 36, "Kept on this phone")
        for path in ("give/", "note/"):
            expect(kept.open(path).page.locator('[data-part="high"]')).to_contain_text("MAP 44, critical")

    @pytest.mark.night
    def test_after_a_bolus_nothing_says_that_no_fluid_was_given(self, kept: Phone):
        told = kept.open("give/").page.get_by_text("no fluid has been given yet")
        expect(told.first).to_be_visible()
        until(kept, bolus := "give/crystalloid-bolus/")
        cut(kept)
        kept.open(bolus).pick("IV")
        kept.page.locator('label.pick:has([name="dose"])').first.click()
        kept.page.locator("#already > summary").click()
        kept.main.click()
        expect(kept.outcome).to_contain_text("Kept on this phone")
        kept.open("give/")
        expect(told.locator("visible=true")).to_have_count(0)


@pytest.mark.night
class TestThePhase:
    """What is kept of an arrest is held once a pulse is back, as the phone itself knows, be that sent or not."""

    HELD = "A pulse is back: an arrest dose is not for a patient with a pulse"

    @pytest.fixture
    def arrest(self, phone: Phone, transport: Transport) -> Phone:
        phase(transport, "arrest")
        phone.open(ARREST)
        until(phone, ARREST)
        phone.open()
        return phone

    def choose(self, phone: Phone) -> None:
        phone.pick("IV")
        phone.dose("1 mg")

    def test_in_the_arrest_the_dose_may_be_given(self, arrest: Phone):
        cut(arrest)
        self.choose(arrest.open(ARREST))
        expect(arrest.page.locator("#kept")).to_be_visible()
        expect(arrest.main).not_to_contain_text("pulse")

    def test_with_a_pulse_that_waits_here_it_is_held(self, arrest: Phone):
        cut(arrest)
        self.pulse_back(arrest)
        expect(arrest.link).to_contain_text("1 waiting")
        self.choose(arrest.open(ARREST))
        expect(arrest.main).to_contain_text(self.HELD)
        expect(arrest.main).to_have_attribute("aria-disabled", "true")

    def test_with_a_pulse_that_was_sent_it_is_held_too(self, arrest: Phone):
        self.pulse_back(arrest)
        expect(arrest.link).to_have_text("All sent")
        cut(arrest)
        self.choose(arrest.open(ARREST))
        expect(arrest.page.locator("#kept")).to_be_visible()
        expect(arrest.main).to_contain_text(self.HELD)

    def test_the_kept_page_of_the_arrest_knows_it_too(self, arrest: Phone):
        """The page itself is the one that was kept in the arrest: the newer one never came."""
        until(arrest, "")
        cut(arrest)
        self.pulse_back(arrest)
        arrest.open()
        expect(arrest.page.locator("#arrest-back")).to_be_visible()
        expect(arrest.page.locator("#arrest-work")).to_be_hidden()

    def test_what_was_given_is_recorded_all_the_same(self, arrest: Phone):
        cut(arrest)
        self.pulse_back(arrest)
        self.choose(arrest.open(ARREST))
        arrest.page.locator("#already > summary").click()
        expect(arrest.main).to_contain_text("Record as given")

    def test_a_push_for_a_pulse_is_offered_neither_once_more_nor_to_give(self, phone: Phone, transport: Transport):
        transport.give(10)
        phone.open()
        until(phone, PUSH)
        expect(phone.page.locator("#again")).to_be_visible()
        cut(phone)
        phone.page.locator("#arrest-control > summary").click()
        phone.page.get_by_role("button", name="Start: cardiac arrest now").click()
        expect(phone.page.locator("#again")).to_be_hidden()
        phone.open()
        expect(phone.page.locator("#again")).to_be_hidden()
        phone.open(PUSH).pick("IV")
        phone.dose("10 mcg")
        expect(phone.main).to_contain_text("Cardiac arrest: this dose is for a patient with a pulse")

    def pulse_back(self, phone: Phone) -> None:
        phone.page.locator(".arrest-end > summary").filter(has_text="Pulse is back").click()
        phone.page.get_by_role("button", name="Yes, pulse is back now").click()
        expect(phone.page.locator("#arrest-work")).to_be_hidden()


@pytest.mark.night
class TestWhoseTheyAre:
    def test_a_case_that_ends_is_dropped(self, phone: Phone, transport: Transport):
        cases.close(transport.team.osk, transport.uid, {"outcome": "cancelled"}, clock.now())
        phone.open()
        until(phone, "", "vitals/", kept=False)

    def test_signing_out_drops_all(self, phone: Phone, board: Board):
        phone.page.goto(f"{board.address}/crew/")
        phone.page.locator("#sign-out button").click()
        phone.page.wait_for_url("**/sign-in/**")
        phone.page.evaluate(NONE)

    def test_without_a_session_nothing_is_shown_and_all_is_dropped(self, phone: Phone, board: Board):
        phone.page.context.clear_cookies()
        phone.page.goto(f"{board.address}/crew/{phone.case}/")
        phone.page.wait_for_url("**/sign-in/**")
        phone.page.evaluate(NONE)

    def test_what_is_older_than_a_day_is_not_shown(self, phone: Phone):
        phone.page.evaluate(AGED)
        cut(phone)
        phone.page.reload()
        expect(phone.page.locator("h1")).to_have_text("Offline")
        expect(phone.page.get_by_text("To the case")).to_have_attribute("href", f"/crew/{phone.case}/")


AGED = """async () => {
  for (const name of (await caches.keys()).filter((each) => each.startsWith("crew-pages-"))) {
    const pages = await caches.open(name);
    for (const request of await pages.keys()) {
      const page = await pages.match(request, { ignoreVary: true });
      const headers = { ...Object.fromEntries(page.headers), "x-kept-at": String(Date.now() - 25 * 3600 * 1000) };
      await pages.put(request.url, new Response(await page.blob(), { headers }));
    }
  }
}"""


@pytest.mark.night
def test_a_call_needs_no_link(phone: Phone):
    cut(phone)
    held = phone.page.evaluate("""() => {
      const call = document.getElementById("main").appendChild(document.createElement("a"));
      call.href = "tel:5550100";
      const held = [];addEventListener("click", (event) => held.push(event.defaultPrevented) && event.preventDefault());
      call.click();
      return held;
    }""")
    assert held == [False]


class TestACaseOpenedWithoutALink:
    """A second patient is taken over in the tunnel: what is done for them is entered at once."""

    @pytest.fixture
    def opened(self, phone: Phone) -> Phone:
        phone.page.evaluate(KEPT, [[f"/crew/not-sent/{name}/" for name in ("case", "vitals", "other", "phase")], True])
        phone.page.evaluate(KEPT, [["/crew/open/", "/crew/"], True])
        cut(phone)
        phone.page.goto(f"{phone.page.url.split('/crew/')[0]}/crew/open/")
        phone.ready().type(**{"patient.age.value": 34, "patient.weight.value": 61})
        for name, value in (("age.unit", "years"), ("weight.basis", "stated"), ("sex", "female")):
            phone.page.locator(f'[name="patient.{name}"][value="{value}"]').locator("..").click()
        phone.main.click()
        expect(phone.outcome).to_contain_text("Kept on this phone")
        phone.page.get_by_role("link", name="To the patient").click()
        phone.page.wait_for_url(re.compile(r"/crew/[0-9a-f-]{36}/$"))
        return Phone(phone.page, phone.page.url.split("/crew/")[1].strip("/")).ready()

    @pytest.mark.night
    def test_its_pages_name_its_patient_and_say_what_works(self, opened: Phone):
        expect(opened.page.locator(".patient")).to_contain_text("34 years female, 61 kg stated")
        expect(opened.page.locator(".paper")).to_contain_text("waits on this phone")
        expect(opened.page.get_by_role("link", name="Orders")).to_have_attribute("data-off", "")
        expect(opened.page.get_by_role("link", name="Vitals").first).not_to_have_attribute("data-off", "")

    def test_what_is_entered_for_it_arrives_after_it(self, opened: Phone, transport: Transport):
        opened.open("vitals/").type(sbp=84, dbp=50, hr=118)
        expect(opened.page.locator("#now-value")).to_have_text("61")  # (84 + 2 x 50) / 3
        expect(opened.page.locator("#now-state")).to_have_text("Not checked yet")
        expect(opened.main).to_contain_text("for Kestrel 2, 34 years female, 61 kg stated")
        opened.main.click()
        expect(opened.outcome).to_contain_text("Kept on this phone")
        opened.open("give/").main.click()
        opened.page.wait_for_url("**/give/other/")
        opened.ready().page.locator('[name="name"]').fill("enalaprilat")
        opened.type(**{"amount.value": 1.25})
        opened.pick("mg")
        opened.pick("IV")
        opened.main.click()
        expect(opened.outcome).to_contain_text("Kept on this phone")
        opened.page.goto(f"{opened.page.url.split('/crew/')[0]}/crew/")
        expect(opened.page.locator("#not-sent")).to_contain_text("34 years female, 61 kg stated")

        mend(opened)
        expect(opened.link).to_have_text("All sent", timeout=20_000)
        case = Case.objects.get(uid=opened.case)
        assert [row.data["sbp"] for row in Vitals.objects.filter(case=case)] == [84]
        assert [row.data["name"] for row in Intervention.objects.filter(case=case)] == ["enalaprilat"]
        expect(opened.open("vitals/").page.locator("#kept")).to_have_count(0)
        expect(opened.page.locator(".patient")).to_contain_text("34 y female")

    @pytest.mark.night
    def test_until_it_is_sent_its_pages_stay_though_the_server_knows_no_such_case(self, opened: Phone):
        opened.page.context.route("**/api/v1/**", lambda route: route.abort())
        mend(opened)
        opened.open("note/")

        expect(opened.page.locator(".patient")).to_contain_text("34 years female")
        opened.page.context.unroute("**/api/v1/**")
