"""The board at first sight: six cards on one screen, none stretched, in the order of need; the menu; the font."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from consult.render import card_html
from tests.browser.conftest import Board, SignIn, Team, Transport
from tests.screens import sample_board

SIX = ("kestrel", "plover", "finch", "wren", "badger", "marten")
BOXES = "() => [...document.querySelectorAll('.card')].map((card) => card.getBoundingClientRect().toJSON())"

TWICE = """() => {
  const board = document.getElementById("cards");
  for (const card of [...board.children]) board.append(card.cloneNode(true));
  board.dispatchEvent(new Event("pointerleave"));
}"""


@pytest.fixture
def six(team: Team, sign_in: SignIn) -> Page:
    """The board of an agency with the six cards of the drawings, as the server draws them."""
    page = sign_in("merrin", "/board/", clock=True)
    expect(page.locator("#strip")).to_have_attribute("data-live", "live")
    drawn = "".join(card_html(getattr(sample_board, name)()) for name in SIX)
    html = re.sub(r' data-(stale-at|until)="[^"]*"', "", drawn)  # as they are seen at the time that they tell of
    page.evaluate("(html) => { document.getElementById('cards').innerHTML = html; }", html)
    page.clock.fast_forward(1_000)
    expect(page.locator(".card").last).not_to_have_css("grid-column-start", "auto")
    expect(page.locator("[data-count]").first).not_to_contain_text("since")  # the clock has written all times
    return page


def test_six_cards_fit_a_screen_of_1440_by_900_and_more_are_dense_unless_somebody_chose(six: Page):
    """Above the foot, whoever looks besides; of twelve in dense view those without a request. It names who is below."""
    people = "Looking now: Dr. Merrin (you), Dr. Quillan, Dr. Sorrel"
    six.locator("#looking").evaluate("(line, told) => { line.hidden = false; line.textContent = told; }", people)
    six.clock.fast_forward(1_000)
    boxes, foot = six.evaluate(BOXES), six.locator(".foot").bounding_box()

    assert len(boxes) == 6
    assert foot
    assert foot["y"] + foot["height"] == pytest.approx(900, abs=1)
    assert max(box["bottom"] for box in boxes) <= foot["y"]

    expect(six.locator("#below")).to_be_hidden()
    six.evaluate(TWICE)
    expect(six.locator("[data-set-density='dense']")).to_have_attribute("aria-pressed", "true")
    expect(six.locator("#made-dense")).to_be_visible()
    six.locator("#made-dense [data-keep-density='dense']").click()
    expect(six.locator("#made-dense")).to_be_hidden()
    six.wait_for_function(
        """(foot) => [...document.querySelectorAll(".card:not([data-decide])")]
          .every((card) => card.getBoundingClientRect().bottom <= foot)""",
        arg=foot["y"],
    )
    expect(six.locator("#below")).to_contain_text("Need you further down: Finch 6")
    six.evaluate(TWICE)
    expect(six.locator("#below")).to_contain_text("Need you further down: Finch 6")
    assert six.locator("#below").evaluate("(cue) => { cue.click(); return scrollY; }") > 0


@pytest.mark.night
def test_the_first_row_holds_the_first_three_and_each_further_card_goes_where_it_is_free_the_highest(six: Page):
    boxes = six.evaluate(BOXES)

    assert len({box["top"] for box in boxes[:3]}) == 1
    assert [box["left"] for box in boxes[:3]] == sorted(box["left"] for box in boxes[:3])
    ends = {box["left"]: box["bottom"] for box in boxes[:3]}
    for box in boxes[3:]:
        assert box["left"] == min(ends, key=ends.__getitem__)
        assert 12 <= box["top"] - ends[box["left"]] < 17, "a gap of 12 px and at most one thin row"
        ends[box["left"]] = box["bottom"]


@pytest.mark.night
def test_no_card_is_stretched_to_its_neighbor(six: Page):
    """Each is as high as what it holds."""
    left = """(cards) => cards.map((card) => card.getBoundingClientRect().bottom
      - card.lastElementChild.getBoundingClientRect().bottom)"""

    assert six.locator(".card").evaluate_all(left) == [pytest.approx(0, abs=1)] * 6


@pytest.mark.night
def test_four_buttons_of_one_height_decide_on_one_line_and_the_dose_is_said_once(six: Page):
    panel = six.locator("[data-step='requested']").first
    boxes = [button.bounding_box() for button in panel.locator(".decide .btn").all()]

    assert len(boxes) == 4
    assert len({(box["y"], box["height"]) for box in boxes if box}) == 1
    dose = panel.locator(".ask-what").inner_text()
    assert panel.inner_text().count(dose) == 1


def test_dense_view_shows_the_impression_a_second_alert_and_decides_in_place(transport: Transport, sign_in: SignIn):
    transport.vitals(sbp=74, dbp=44, bp_method="cuff", hr=128)
    transport.give(100)
    transport.ask(30)
    page = sign_in("merrin", "/board/")
    page.locator("[data-set-density='dense']").click()
    card = page.locator(".card")

    expect(card.get_by_text("Septic")).to_be_visible()
    expect(card.locator(".alarm").nth(1)).to_be_visible()
    card.get_by_role("button", name="Approve for Kestrel 2 A").click()

    expect(card.locator(".ask[data-step='approved']")).to_be_visible()


@pytest.mark.night
def test_a_long_infusion_stays_within_its_card_and_old_values_in_one_row(six: Page):
    six.evaluate(
        """() => {
          for (const age of document.querySelectorAll('.vital:nth-child(n + 4) .age')) {
            age.removeAttribute('data-age-short');
            age.textContent = '10 min';
          }
          for (const what of document.querySelectorAll('.line.given .line-what')) {
            what.lastChild.textContent = 'norepinephrine infusion 0.05 mcg/kg/min of 16 mcg per mL IV';
          }
        }"""
    )
    left = "(mark) => mark.getBoundingClientRect().left - mark.closest('.card').getBoundingClientRect().left"
    tops = "(row) => [...new Set([...row.children].map((cell) => cell.getBoundingClientRect().top))].length"

    marks = [mark.evaluate(left) for mark in six.locator(".line.given .rx").all()]
    rows = [row.evaluate(tops) for row in six.locator(".vitals").all()]

    assert marks
    assert min(marks) > 0, "a mark sticks out over the border"
    assert rows == [1] * len(SIX), "a measurement stands alone on a second line"


@pytest.mark.parametrize("density", ["roomy", "dense"])
def test_the_large_number_has_its_name_and_goal_in_sight(transport: Transport, sign_in: SignIn, density: str):
    """A palpated pressure has no MAP: that the number is another one now is written about as large as the number."""
    transport.vitals(sbp=74, dbp=44, bp_method="cuff")
    page = sign_in("merrin", "/board/")
    page.locator(f"[data-set-density='{density}']").click()
    pressure = page.locator(".card .pressure")
    name, value = pressure.locator(".map-name"), pressure.locator(".map-value")
    expect(name).to_have_text("MAP")
    expect(name).to_be_visible()
    expect(pressure.locator(".goal")).to_be_visible()
    expect(pressure.locator(".goal")).to_have_text("goal 65")
    small, size = (each.evaluate("(each) => parseFloat(getComputedStyle(each).fontSize)") for each in (name, value))

    transport.vitals(sbp=70, bp_method="palpated")

    expect(name).to_have_text("SBP")
    expect(pressure.locator(".goal")).to_contain_text("SBP goal")
    large = name.evaluate("(each) => parseFloat(getComputedStyle(each).fontSize)")
    assert large > 1.5 * small
    assert large >= size / 2


@pytest.mark.night
def test_the_account_menu_closes_with_escape_and_a_press_outside(team: Team, sign_in: SignIn):
    page = sign_in("merrin", "/board/")
    menu, name = page.locator(".menu-list"), page.locator(".menu summary")

    name.click()
    expect(menu).to_be_visible()
    page.keyboard.press("Escape")
    expect(menu).to_be_hidden()
    expect(name).to_be_focused()
    name.click()
    page.locator("main").click(position={"x": 5, "y": 5})
    expect(menu).to_be_hidden()


@pytest.mark.night
def test_one_dot_travels_among_five_while_live_and_none_when_lost(board: Board, transport: Transport, sign_in: SignIn):
    page = sign_in("merrin", "/board/", clock=True)
    dots, shown = page.locator(".live-sign circle"), page.locator(".live-sign circle[data-on]")
    expect(dots).to_have_count(5)
    expect(shown).to_have_count(1)

    board.freeze()
    page.clock.fast_forward(10_000)

    expect(page.locator("#strip")).to_have_attribute("data-live", "lost")
    expect(shown).to_have_count(0)


@pytest.mark.night
def test_the_served_font_is_used_and_its_figures_are_of_one_width(team: Team, sign_in: SignIn):
    page = sign_in("merrin", "/board/")
    page.evaluate("() => document.fonts.ready")

    assert page.evaluate("() => document.fonts.check('400 16px Inter')")
    width: Any = """(text) => {
      const place = document.body.appendChild(Object.assign(document.createElement("span"), { textContent: text }));
      return place.getBoundingClientRect().width;
    }"""
    assert page.evaluate(width, "1111") == page.evaluate(width, "8888")
    assert page.evaluate("() => [...document.fonts].every((face) => face.family === 'Inter')")
