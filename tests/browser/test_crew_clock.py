"""A phone whose clock is off, or steps: entries stand where they belong in time, the page shows true times."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.models import Vitals
from tests.browser.conftest import Board, SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone

AHEAD = timedelta(minutes=30)
FAST, RIGHT, SLOW = 300, 0, -300  # how many seconds a clock is ahead
NEAR = timedelta(seconds=2)
PHONES_CLOCK = """
const real = Date;
window.clockAhead = %d;
window.Date = class extends real {
  constructor(...told) { told.length ? super(...told) : super(real.now() + clockAhead); }
  static now() { return real.now() + clockAhead; }
};
"""
Take = Callable[[float], Phone]


@pytest.fixture
def take(sign_in: SignIn, transport: Transport) -> Take:
    """On the page for vitals, with a clock that is so many seconds ahead."""

    def taken(ahead_s: float) -> Phone:
        script = PHONES_CLOCK % (ahead_s * 1000)
        page = sign_in("osk", f"/crew/{transport.uid}/vitals/", script=script, **PHONE)
        phone = Phone(page, str(transport.uid)).ready()
        expect(phone.link).to_have_text("All sent")
        return phone

    return taken


def enter(phone: Phone, heart_rate: int) -> None:
    if phone.outcome.is_visible():
        phone.page.get_by_role("button", name="Another reading").click()
        expect(phone.page.locator('input[name="sbp"]')).to_be_focused()  # the new set has begun
    phone.type(hr=heart_rate)
    phone.main.click()


def step(phone: Phone, ahead_s: float) -> None:
    """The phone's clock is set: from now on it is so many seconds ahead."""
    phone.page.evaluate("ms => { clockAhead = ms; }", ahead_s * 1000)


@contextmanager
def silence(phone: Phone) -> Iterator[None]:
    """The phone hears nothing and sends nothing; at the end all that waited is sent."""
    phone.page.context.set_offline(True)
    expect(phone.link).to_contain_text("Offline")
    yield
    phone.page.context.set_offline(False)
    expect(phone.link).to_have_text("All sent", timeout=15_000)


@dataclass(frozen=True)
class Entered:
    """When an entry was made, by a clock that is right."""

    heart_rate: int
    begun: datetime
    done: datetime

    def stands(self) -> bool:
        taken_at = Vitals.objects.get(data__hr=self.heart_rate).taken_at
        return self.begun - NEAR <= taken_at <= self.done + NEAR


def keep(phone: Phone, heart_rate: int) -> Entered:
    begun = clock.now()
    enter(phone, heart_rate)
    expect(phone.outcome).to_be_visible()
    expect(phone.outcome).to_contain_text("Kept on this phone")
    return Entered(heart_rate, begun, clock.now())


def test_an_entry_and_a_batch_stand_at_their_true_time(take: Take):
    phone = take(AHEAD.total_seconds())
    began = clock.now()
    enter(phone, 101)
    expect(phone.outcome).to_contain_text("Sent")
    phone.cut()
    for heart_rate in (102, 103):
        keep(phone, heart_rate)
    phone.mend()
    expect(phone.link).to_have_text("All sent")

    rows = list(Vitals.objects.order_by("seq"))
    assert [row.data["hr"] for row in rows[-3:]] == [101, 102, 103]
    assert all(abs(row.clock_offset_s + AHEAD.total_seconds()) <= 2 for row in rows[-3:])
    assert all(began - NEAR <= row.taken_at <= clock.now() for row in rows[-3:])


def test_the_page_shows_the_servers_time(take: Take):
    phone = take(AHEAD.total_seconds())
    enter(phone, 101)
    expect(phone.outcome).to_contain_text("Sent")
    expect(phone.page.locator("#link-sent")).to_contain_text("sent")
    shown = phone.page.locator("#link-sent").inner_text().removeprefix("sent ")
    expected = {(clock.now() - timedelta(seconds=back)).strftime("%H:%M:%S")[:5] for back in (0, 60)}
    assert shown[3:5] in {each[3:5] for each in expected}


@pytest.mark.parametrize(
    ("opened", "entered", "sent"),
    [
        pytest.param(FAST, FAST, RIGHT, id="fast, put right before it is sent"),
        pytest.param(SLOW, SLOW, RIGHT, id="slow, put right before it is sent"),
        pytest.param(RIGHT, FAST, RIGHT, id="goes fast and is put right without a link"),
        pytest.param(RIGHT, FAST, FAST, id="goes fast without a link and stays so"),
        pytest.param(RIGHT, RIGHT, FAST, id="right, goes fast before it is sent"),
    ],
)
def test_an_entry_stands_at_its_true_time_whatever_the_clock_does_while_it_waits(
    take: Take, opened: int, entered: int, sent: int
):
    phone = take(opened)
    with silence(phone):
        step(phone, entered)
        kept = keep(phone, 101)
        step(phone, sent)

    assert kept.stands()


def test_entries_from_before_and_after_the_step_go_out_in_one_go_each_by_its_own_clock(take: Take):
    phone = take(FAST)
    with silence(phone):
        kept = [keep(phone, 101), keep(phone, 102)]
        step(phone, RIGHT)
        kept += [keep(phone, 103), keep(phone, 104)]

    assert all(each.stands() for each in kept)
    rows = list(Vitals.objects.order_by("seq"))
    assert [row.data["hr"] for row in rows] == [101, 102, 103, 104]
    assert [round((row.clock_offset_s or 0) / 60) for row in rows] == [-5, -5, 0, 0]


@pytest.mark.night
def test_what_was_kept_before_a_reload_stands_at_its_true_time(take: Take):
    phone = take(FAST)
    phone.cut()
    kept = keep(phone, 101)
    phone.page.add_init_script("clockAhead = 0")
    phone.page.reload()
    expect(phone.link).to_have_text("Offline: 1 waiting")
    phone.mend()
    expect(phone.link).to_have_text("All sent")

    assert kept.stands()


SENT = """async (waiting) => {
  const { deliver } = await import("/static/crew/deliver.js");
  const { clockNow } = await import("/static/core/clock.js");
  const calls = [];
  window.fetch = async (path, { body } = {}) => {
    const server_time = new Date(Date.now() - clockAhead);
    if (path === "/crew/who/") return Response.json({ membership: "m", server_time });
    const { sent_at, entries, id } = JSON.parse(body);
    calls.push({ ids: entries?.map((entry) => entry.id) ?? [id], off: Date.parse(sent_at) - Date.now() });
    if (id === "faulty") return Response.json({ title: "Fault" }, { status: 500 });
    if (!entries) return Response.json({ id }, { status: 201 });
    return Response.json({ results: entries.map((entry) => ({ id: entry.id, status: 201 })) });
  };
  const ahead = { fast: -300000, right: 0 };
  const clocks = { fast: { id: "fast", ahead: ahead.fast }, now: clockNow() };
  const entries = waiting.map(([id, by]) => ({ id, kind: "note", case: "c", data: {}, clock: clocks[by] }));
  const { results } = await deliver(entries, "m");
  return { calls, settled: results.map(({ entry }) => entry.id) };
}"""


@pytest.mark.night
def test_what_was_kept_without_a_clock_goes_out_as_before(take: Take):
    told = take(RIGHT).page.evaluate(SENT, [["older", None], ["newer", "now"]])

    assert [call["ids"] for call in told["calls"]] == [["older", "newer"]]
    assert abs(told["calls"][0]["off"]) < 1000


@pytest.mark.night
def test_an_entry_at_which_the_server_fails_holds_up_none_of_another_clock(take: Take):
    told = take(RIGHT).page.evaluate(SENT, [["faulty", "fast"], ["well", "now"]])

    assert [call["ids"] for call in told["calls"]] == [["faulty"], ["well"]]
    assert [round(call["off"] / 60_000) for call in told["calls"]] == [5, 0]
    assert told["settled"] == ["well"]


@pytest.mark.night
def test_a_clock_that_is_set_back_hides_no_silence(sign_in: SignIn, transport: Transport, board: Board):
    """Neither from the link line nor from the news of the case, whose socket is replaced after 12 s without a word."""
    page = sign_in("osk", f"/crew/{transport.uid}/vitals/", clock=True, **PHONE)
    phone = Phone(page, str(transport.uid)).ready()
    expect(phone.link).to_have_text("All sent")
    board.freeze()
    page.clock.set_system_time(clock.now() - timedelta(minutes=10))
    page.clock.run_for(8_000)
    expect(phone.link).to_contain_text("Offline", timeout=1000)
    with page.expect_websocket(timeout=5000):
        page.clock.run_for(8_000)


@pytest.mark.night
def test_neither_does_it_on_a_physicians_page(sign_in: SignIn, transport: Transport, board: Board):
    page = sign_in("merrin", "/board/", clock=True)
    expect(page.locator("#live-word")).to_have_text("Live")
    board.freeze()
    page.clock.set_system_time(clock.now() - timedelta(minutes=10))
    page.clock.run_for(9_000)

    expect(page.locator("#live-word")).to_contain_text("Not live", timeout=1000)


@pytest.mark.night
def test_a_question_after_the_link_is_over_before_the_page_is_left(take: Take):
    phone = take(RIGHT)
    broken: list[str] = []
    phone.page.on("requestfailed", lambda request: broken.append(request.url))
    with phone.page.expect_response("**/healthz"):
        phone.page.evaluate("dispatchEvent(new Event('online'))")
    phone.open("note/")

    assert broken == []


SLEPT = """async ([hidden, before]) => {
  const { setServerTime, clockNow, serverNow, timeBy } = await import("/static/core/clock.js?of-its-own");
  if (before) setServerTime(new Date().toISOString());
  const kept = clockNow();
  const awake = performance.now.bind(performance), real = Date.now;
  Object.defineProperty(document, "hidden", { configurable: true, value: hidden });
  document.dispatchEvent(new Event("visibilitychange"));
  performance.now = () => awake() - 600000; // ten minutes in which only the clock on the wall went on
  const told = [serverNow() - Date.now(), timeBy(kept) - Date.now()];
  return told.map((ms) => Math.round(ms / 60000));
}"""


@pytest.mark.parametrize("told_before", [True, False])
@pytest.mark.parametrize(("hidden", "off_min"), [(True, 0), (False, -10)])
def test_a_phone_that_slept_has_not_set_its_clock(take: Take, hidden: bool, off_min: int, told_before: bool):
    """Seen all the while, a clock that runs ahead of the steady one was set; what sleeps is hidden first."""
    server, kept = take(RIGHT).page.evaluate(SLEPT, [hidden, told_before])

    assert server == (off_min if told_before else 0)
    assert kept == off_min
