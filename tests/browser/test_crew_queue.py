"""Store and forward on the crew's phone: nothing lost, nothing twice, nothing sent for somebody else."""

from __future__ import annotations

import re
from typing import Any
from uuid import UUID

import pytest
from playwright.sync_api import Request, expect

from consult import clock
from consult.actions import accounts, cases
from consult.models import Agency, Case, Heartbeat, JournalEntry, Note, User, Vitals
from tests.browser.conftest import PASSWORD, Board, SignIn, Take, Transport
from tests.browser.crew_phone import PHONE, Phone


@pytest.fixture
def phone(sign_in: SignIn, transport: Transport) -> Phone:
    """On the page for vitals, with a link."""
    page = sign_in("osk", f"/crew/{transport.uid}/vitals/", **PHONE)
    page.wait_for_url("**/crew/**")
    taken = Phone(page, str(transport.uid)).ready()
    expect(taken.link).to_have_text("All sent")
    return taken


def enter(phone: Phone, sbp: int, dbp: int) -> None:
    """Enter a pressure by cuff and press the main button, on a page that knows no bounds, such as an older one."""
    bounded = phone.page.locator("[data-most]")
    bounded.evaluate_all("fields => fields.forEach(({ dataset }) => { delete dataset.least; delete dataset.most; })")
    phone.pick("Cuff")
    phone.type(sbp=sbp, dbp=dbp)
    if sbp > 300:
        phone.sure()
    else:
        phone.main.click()


def test_with_a_link_an_entry_goes_out_at_once(phone: Phone):
    enter(phone, 74, 44)

    expect(phone.outcome).to_contain_text("Sent")
    expect(phone.outcome).to_contain_text("MAP 54, goal 65")
    expect(phone.link).to_have_text("All sent")
    expect(phone.page.locator("#link-sent")).to_contain_text("sent")
    assert Vitals.objects.count() == 1


def test_without_a_link_it_waits_survives_a_reload_and_is_delivered_exactly_once(phone: Phone):
    phone.cut()
    enter(phone, 74, 44)
    expect(phone.link).to_have_text("Offline: 1 waiting")
    expect(phone.outcome).to_contain_text("Kept on this phone")

    phone.page.reload()
    expect(phone.link).to_have_text("Offline: 1 waiting")
    assert Vitals.objects.count() == 0
    phone.mend()

    expect(phone.link).to_have_text("All sent")
    assert Vitals.objects.count() == 1
    phone.page.reload()
    expect(phone.link).to_have_text("All sent")
    assert Vitals.objects.count() == 1


@pytest.mark.night
def test_several_that_waited_go_in_one_batch_oldest_first(phone: Phone):
    batches: list[Request] = []
    phone.page.on("request", lambda request: batches.append(request) if "/batch/" in request.url else None)
    phone.cut()
    for sbp in (74, 78, 82):
        enter(phone, sbp, 44)
        expect(phone.outcome).to_contain_text("Kept on this phone")
        phone.page.get_by_role("button", name="Another reading").click()
    expect(phone.link).to_have_text("Offline: 3 waiting")
    batches.clear()
    phone.mend()

    expect(phone.link).to_have_text("All sent")
    assert [row.data["sbp"] for row in Vitals.objects.order_by("seq")] == [74, 78, 82]
    assert len(batches) == 1


def test_an_answer_that_is_lost_on_the_way_makes_no_second_entry(phone: Phone):
    """The server has it, the phone does not know: the same id is sent again and is one entry."""
    lost = []

    def lose_the_first_answer(route: Any) -> None:
        lost.append(route.fetch())
        route.abort("connectionreset")

    phone.page.context.route("**/api/v1/cases/*/vitals/", lose_the_first_answer, times=1)
    enter(phone, 74, 44)

    expect(phone.outcome).to_contain_text("Sent", timeout=10_000)
    assert len(lost) == 1
    assert Vitals.objects.count() == 1


TOO_MUCH_AT_ONCE = """async () => {
  const { Queue } = await import("/static/crew/queue.js");
  const calls = [];
  const taken = { status: 201 }, tooMuch = { status: 429, problem: { type: "too-many", detail: "Too many entries." } };
  window.fetch = async (path, { body } = {}) => {
    if (path === "/crew/who/") return Response.json({ membership: "m" });
    const entries = JSON.parse(body).entries ?? [JSON.parse(body)];
    calls.push({ ids: entries.map(({ id }) => id), at: performance.now() });
    if (!path.endsWith("/batch/")) return Response.json({}, { status: 201 });
    const results = entries.map(({ id, kind }) => ({ id, ...(kind === "vitals" ? taken : tooMuch) }));
    return Response.json({ results }, { headers: { "Retry-After": "1" } });
  };
  const queue = new Queue("m");
  const sent = (id) => new Promise((done) => {
    queue.addEventListener("sent", ({ detail }) => detail.entry.id === id && done());
  });
  const held = new Promise((done) => queue.addEventListener("change", () => queue.isHeld && done()));
  const entry = (id, kind) => ({ id, kind, case: "c", data: {}, says: id });
  queue.linked = false;
  await queue.open();
  await queue.send();  // what opening it began has ended: it would send the note alone
  const store = queue.send;
  queue.send = () => undefined;
  await queue.add(entry("note", "note"));
  await queue.add(entry("first reading", "vitals"));
  queue.send = store;
  const note = sent("note");
  queue.send();
  await held;
  const real = Date.now;
  Date.now = () => real() - 600_000; // the clock is set back meanwhile: nobody waits longer for it
  const waits = (await queue.waiting()).map(({ id }) => id);
  const second = sent("second reading");
  await queue.add(entry("second reading", "vitals"));
  await second;
  const heldStill = queue.isHeld;
  await note;
  return { calls: calls.map(({ ids }) => ids), waits, heldStill, after: calls[2].at - calls[0].at };
}"""


@pytest.mark.night
def test_what_is_too_much_at_once_is_kept_and_sent_again_in_time_while_readings_go_out(phone: Phone):
    told = phone.page.evaluate(TOO_MUCH_AT_ONCE)

    assert told["waits"] == ["note"]
    assert told["calls"] == [["note", "first reading"], ["second reading"], ["note"]]
    assert told["heldStill"] is True, "the second reading did not wait for the note"
    assert told["after"] >= 1000


def test_two_taps_are_one_entry(phone: Phone):
    phone.pick("Cuff")
    phone.type(sbp=74, dbp=44)
    phone.page.evaluate("(b => { b.click(); b.click(); b.click(); })(document.getElementById('main-button'))")

    expect(phone.outcome).to_contain_text("Sent")
    assert Vitals.objects.count() == 1


def test_a_refused_entry_comes_back_with_its_reason_and_is_corrected_in_place(phone: Phone):
    enter(phone, 390, 44)

    wrong = phone.page.locator("form .wrong")
    expect(wrong).to_contain_text("Not accepted: Must be from 20 to 300")
    expect(phone.link).to_have_text("1 not accepted")
    assert phone.page.locator('input[name="sbp"]').input_value() == "390"
    phone.type(sbp=90)
    phone.main.click()

    expect(phone.outcome).to_contain_text("Sent")
    expect(phone.link).to_have_text("All sent")
    assert [row.data["sbp"] for row in Vitals.objects.all()] == [90]


def test_what_was_refused_is_kept_and_listed_until_somebody_removes_it(phone: Phone):
    enter(phone, 390, 44)
    expect(phone.link).to_have_text("1 not accepted")
    phone.page.reload()
    phone.ready()

    phone.page.locator("#link").click()
    queue = phone.page.locator("#queue")
    expect(queue).to_contain_text("390/44 mmHg")
    expect(queue).to_contain_text("Not accepted: Must be from 20 to 300")
    queue.get_by_role("button", name="Remove from this phone").click()

    expect(phone.link).to_have_text("All sent")


@pytest.mark.night
def test_what_was_refused_can_stay_in_the_record_as_a_note(phone: Phone):
    """Why, when and what it said: so nothing is lost with the phone."""
    enter(phone, 390, 44)
    expect(phone.link).to_have_text("1 not accepted")
    phone.page.locator("#link").click()
    phone.page.get_by_role("button", name="Keep as a note of the case").click()

    expect(phone.link).to_have_text("All sent")
    (note,) = Note.objects.all()
    assert re.fullmatch(
        r"Entered \d\d:\d\d UTC, not accepted: .*390/44 mmHg.* Reason: Must be from 20 to 300.*", note.text
    )


def test_a_handover_of_a_case_that_was_closed_meanwhile_is_told_why_and_kept(phone: Phone, transport: Transport):
    """What was done before goes in late; what only an open case can have does not, and says so."""
    phone.cut()
    enter(phone, 74, 44)
    phone.open("handover/").page.locator('input[name="to"]').fill("Mere General")
    phone.sure("Press again: handed over")
    expect(phone.link).to_have_text("Offline: 2 waiting")
    cases.close(transport.team.merrin, transport.uid, {"outcome": "cancelled"}, clock.now())
    phone.mend()

    expect(phone.link).to_have_text("1 not accepted")
    assert Vitals.objects.count() == 1
    phone.page.locator("#link").click()
    queue = phone.page.locator("#queue")
    expect(queue).to_contain_text("Handed over to Mere General")
    expect(queue).to_contain_text(re.compile(r"Not accepted: The case was already closed at \d\d:\d\d:\d\d"))
    queue.get_by_role("button", name="Keep as a note of the case").click()
    expect(phone.link).to_have_text("All sent")
    assert "Handed over to Mere General. Reason: The case was already closed at" in Note.objects.get().text


def test_an_unlikely_value_is_asked_about_once_before_it_is_sent(phone: Phone):
    phone.type(sbp=84, dbp=50, spo2=9)
    phone.main.click()
    expect(phone.main).to_contain_text("Sure?")
    expect(phone.page.locator("[data-doubt]")).to_have_text("Unusual: SpO2 9. Is that right?")
    expect(phone.page.locator("#to-send")).to_have_text("84/50 mmHg, SpO2 9")
    expect(phone.page.locator("#to-send")).to_be_visible()
    assert not Vitals.objects.exists()

    expect(phone.main).to_have_attribute("aria-disabled", "false")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")
    expect(phone.outcome).not_to_contain_text("please check")
    assert Vitals.objects.get().data["spo2"] == 9


def test_a_silent_server_is_told_within_ten_seconds(take: Take, board: Board):
    phone = take("vitals/", clock=True)
    expect(phone.link).to_have_text("All sent")

    board.freeze()
    phone.page.clock.fast_forward(10_000)

    expect(phone.link).to_contain_text("Offline")


def test_a_crew_is_told_that_nothing_raises_alerts(phone: Phone):
    Heartbeat.objects.all().delete()

    expect(phone.page.get_by_text("Alert checks have stopped: alerts may be late.")).to_be_visible(timeout=8_000)


@pytest.mark.night
def test_without_a_link_no_other_page_is_opened_and_what_was_typed_stays(phone: Phone):
    phone.type(hr=128)
    phone.page.context.set_offline(True)  # a tick of the socket would be a link
    expect(phone.link).to_contain_text("Offline")

    phone.page.get_by_role("link", name="Give").click()

    expect(phone.page.locator("#held")).to_contain_text("cannot be opened now")
    assert phone.page.locator('input[name="hr"]').input_value() == "128"

    phone.page.context.set_offline(False)
    expect(phone.page.locator("#held")).to_have_count(0, timeout=15_000)


def test_a_browser_that_keeps_nothing_says_so_and_takes_nothing(phone: Phone):
    phone.page.add_init_script("Object.defineProperty(window, 'indexedDB', { value: undefined })")
    phone.page.reload()

    expect(phone.link).to_have_text("This browser cannot keep entries. Use another one, or the paper protocol")
    expect(phone.main).to_be_disabled()


class TestSomebodyElse:
    @pytest.fixture
    def lund(self, transport: Transport, password_hash: str) -> UUID:
        """Another of Kestrel 2's crew, who signs in on the same phone."""
        case = Case.objects.get(uid=transport.uid)
        user = User.objects.create(username="lund", first_name="Bryn", last_name="Lund", password=password_hash)
        agency = Agency.objects.get(pk=case.agency_id)
        return accounts.make_member(agency, "crew", user=user, unit=case.unit).pk

    def test_after_signing_out_the_entries_neither_show_nor_go_out_under_another_name(
        self, phone: Phone, lund: UUID, board: Board
    ):
        phone.cut()
        enter(phone, 74, 44)
        expect(phone.link).to_have_text("Offline: 1 waiting")
        sign_in_as(phone, board, "lund")
        phone.mend()

        expect(phone.link).to_have_text("All sent")
        phone.page.locator("#link").click()
        expect(phone.page.locator("#queue")).to_have_text("Nothing waits on this phone.")
        assert Vitals.objects.count() == 0

        sign_in_as(phone, board, "osk")
        expect(phone.link).to_have_text("All sent")
        expect(phone.page.locator("#link-sent")).to_contain_text("sent")
        assert JournalEntry.objects.get(kind="vitals.recorded").by_name == "Jory Osk"

    @pytest.mark.night
    def test_a_page_left_open_sends_nothing_once_somebody_else_is_signed_in(
        self, phone: Phone, lund: UUID, board: Board
    ):
        other = Phone(phone.page.context.new_page(), phone.case)
        sign_in_as(other, board, "lund")
        enter(phone, 74, 44)

        expect(phone.link).to_contain_text("Signed out: sign in to send 1")
        assert Vitals.objects.count() == 0


def sign_in_as(phone: Phone, board: Board, name: str) -> None:
    """Sign out whoever is signed in on this phone, and sign in as another."""
    phone.page.context.clear_cookies()
    phone.page.goto(f"{board.address}/sign-in/?next=/crew/{phone.case}/vitals/")
    phone.page.get_by_label("Username").fill(name)
    phone.page.get_by_label("Password").fill(PASSWORD)
    phone.page.get_by_role("button", name="Sign in").click()
    phone.page.wait_for_url("**/crew/**")
    phone.ready()
