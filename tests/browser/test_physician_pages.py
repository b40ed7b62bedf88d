"""What a physician and a supervisor meet: forms wholly in sight, heads that leave room, one count for one thing."""

from __future__ import annotations

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import SignIn, Transport
from tests.browser.test_fits import busy  # noqa: F401
from tests.browser.test_order_of_cards import Two

SIZES = {"desk": (1440, 900), "phone": (390, 844)}
both = pytest.mark.parametrize("size", SIZES.values(), ids=SIZES)


def live(sign_in: SignIn, path: str, size: tuple[int, int] = (1440, 900), who: str = "merrin") -> Page:
    page = sign_in(who, path, size=size)
    expect(page.locator("#live-word")).to_have_text("Live")
    return page


def box(place: Locator) -> dict[str, float]:
    found = place.bounding_box()
    assert found
    return dict(found)


def ends(place: Locator) -> tuple[float, float]:
    """Where it begins and ends on the screen, from its top."""
    found = box(place)
    return found["y"], found["y"] + found["height"]


@pytest.mark.parametrize("size", [(1440, 900), (700, 900), (390, 844)], ids=["desk", "one column", "phone"])
@pytest.mark.parametrize("name", ["change", "ask", "decline"])
def test_an_open_form_is_wholly_in_sight_and_covers_no_card(
    name: str,
    size: tuple[int, int],
    sign_in: SignIn,
    busy: Transport,  # noqa: F811
):
    two = Two(busy.team)
    two.vitals("Adder 1", sbp=60, dbp=30)
    page = live(sign_in, "/board/", size)
    card = page.locator(".card", has=page.locator(f"[data-form='{name}']")).first
    card.locator(f"[data-form='{name}']").click()
    form = card.locator(f"form[data-name='{name}']")
    expect(form).to_be_visible()

    top, end = ends(form)
    assert top >= ends(page.locator("#head"))[1]
    assert end <= size[1]
    for other in page.locator(".card").all():
        if box(other)["x"] == box(card)["x"] and box(other) != box(card):
            assert ends(other)[1] <= ends(card)[0] or ends(other)[0] >= ends(card)[1]
    expect(card.locator("form:visible [type='submit']")).to_be_in_viewport(ratio=1)


@both
@pytest.mark.night
def test_the_words_of_approve_stand_on_one_line(size: tuple[int, int], sign_in: SignIn, transport: Transport):
    transport.ask(30)
    page = live(sign_in, "/board/", size)

    words = page.locator(".ask-approve > span")
    expect(words).to_have_text("Approve for Kestrel 2 A")
    assert box(words)["height"] < 20, "one line of 13 px"


@pytest.mark.parametrize("width", [390, 1024, 1366, 1440, 1600])
@pytest.mark.night
def test_the_head_stays_as_high_and_no_card_lies_under_the_cue_when_cards_want_to_move_up(
    width: int, sign_in: SignIn, transport: Transport
):
    page = live(sign_in, "/board/", (width, 900))
    before = box(page.locator("#head"))

    page.locator("#cue").evaluate("(cue) => { cue.hidden = false; cue.textContent = 'Move 3 up'; }")

    expect(page.locator("#cue")).to_be_in_viewport(ratio=1)
    assert box(page.locator("#head")) == before
    cue = box(page.locator("#cue"))
    assert cue["y"] + cue["height"] <= before["y"] + before["height"]
    under = "(cue) => [...document.querySelectorAll('#head :is(button, a, summary)')].filter((other) => other !== cue)"
    meets = (
        ".map((other) => other.getBoundingClientRect()).filter((place) => place.width"
        " && place.left < cue.getBoundingClientRect().right && place.right > cue.getBoundingClientRect().left"
        " && place.top < cue.getBoundingClientRect().bottom && place.bottom > cue.getBoundingClientRect().top).length"
    )
    assert page.locator("#cue").evaluate(under + meets) == 0, "it covers another button"


@pytest.mark.parametrize(("width", "said"), [(1366, "Turn sound on"), (1440, "Sound paused 1:59")])
@pytest.mark.night
def test_a_long_name_and_the_longest_words_of_the_sound_leave_the_head_on_one_line(
    width: int, said: str, sign_in: SignIn, transport: Transport
):
    page = live(sign_in, "/board/", (width, 900))
    high = box(page.locator("#head"))["height"]
    page.locator(".menu summary .wide-only").evaluate("(name) => { name.textContent = 'Dr. Alexandra Merrinfield'; }")
    page.locator("#count-high").evaluate("(high) => { high.hidden = false; }")
    page.locator("#strip").evaluate(
        "(strip) => { for (const each of strip.querySelectorAll('b')) each.textContent = '12'; }"
    )
    page.locator("#sound").evaluate("(button, said) => { button.textContent = said; }", said)
    assert box(page.locator("#head"))["height"] == high

    page.locator("#cue").evaluate("(cue) => { cue.hidden = false; cue.textContent = 'Move 11 up'; }")
    assert box(page.locator("#head"))["height"] == high


@pytest.mark.parametrize("path", ["/board/", "/cases/{case}/", "/rules/", "/history/", "/history/{case}/"])
@pytest.mark.night
def test_on_a_phone_the_head_leaves_the_screen_to_the_patient_and_keeps_its_caution(
    path: str, sign_in: SignIn, transport: Transport
):
    Two(transport.team).vitals("Bittern 5", sbp=60, dbp=30)
    transport.vitals(sbp=74, dbp=44)
    who = "averill" if "history" in path else "merrin"
    page = live(sign_in, path.format(case=transport.uid), (390, 844), who)
    expect(page.locator("#count-high")).to_be_visible()

    assert box(page.locator("#head"))["height"] <= 96
    page.locator("#main").evaluate("main => { main.style.minHeight = '3000px'; }")
    page.evaluate("scrollTo(0, 2000)")
    expect(page.locator("#rules-tag")).to_be_in_viewport(ratio=1)
    page.locator(".menu summary").click()
    expect(page.locator(".menu-list").get_by_role("link", name="Board")).to_be_visible()


@pytest.mark.night
def test_what_waits_is_counted_once_and_no_tick_is_told(sign_in: SignIn, transport: Transport):
    transport.vitals(sbp=74, dbp=44)
    transport.ask(30)
    page = live(sign_in, "/board/")

    expect(page.locator("[data-filter='needs']")).to_have_text("Need you 1")
    head = page.locator("#head").inner_text()
    assert "alert" not in head
    assert "request" not in head
    assert "tick" not in head


@both
def test_a_replay_opens_where_the_consult_begins_with_the_whole_card_in_sight(
    size: tuple[int, int], sign_in: SignIn, transport: Transport
):
    transport.vitals(sbp=74, dbp=44)
    page = live(sign_in, f"/history/{transport.uid}/", size, "averill")

    expect(page.locator(".replay-tag")).to_contain_text("entry 1 of ")
    expect(page.locator("#replay-card .map-value")).to_have_text("not taken")
    assert ends(page.locator("#replay-card .card"))[1] <= ends(page.locator(".scrub"))[0]
    page.locator("[data-step='1']").click()
    expect(page.locator(".replay-tag")).to_contain_text("entry 2 of ")
