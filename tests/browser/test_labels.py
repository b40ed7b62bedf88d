"""Labels in true size: what the printer gets, what fits, and that words say all without color."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from consult import clock
from consult.models import Agency
from tests.browser.axe import serious_faults
from tests.browser.conftest import SignIn, Transport

PHONE = (390, 844)
MM = 96 / 25.4  # CSS pixels
POINT = 72 / 25.4  # of a PDF
SLUGS = (
    "epinephrine-push-dose",
    "phenylephrine-push-dose",
    "norepinephrine-infusion",
    "vasopressin-infusion",
    "naloxone",
)
SIZES = {"syringe": (60, 25), "bag": (90, 50)}
# A capital of these plain fonts is 0.7 of the type size high (Arial: 1,466 of 2,048 units), a small letter 0.52.
CAPITAL = 1466 / 2048
LEAST_LETTER_MM = 2.5  # ISO 26825:2020, 5.4.2


@pytest.fixture(autouse=True)
def _after_midnight(transport: Transport) -> None:
    """The agency is where it is between midnight and one: what was mixed at 23:30 is discarded on another day."""
    hour = clock.now().hour
    zone = f"Etc/GMT+{hour}" if hour <= 12 else f"Etc/GMT-{24 - hour}"  # the signs of these are turned round
    Agency.objects.filter(pk=transport.team.osk.agency).update(timezone=zone)


def open_label(transport: Transport, sign_in: SignIn, slug: str, mixed: str = "", **how: Any) -> Page:
    return sign_in("osk", f"/cases/{transport.uid}/label/{slug}/?mixed_by=JO&mixed={mixed}", **how)


@pytest.mark.parametrize("slug", SLUGS)
def test_a_printed_label_has_its_size_and_nothing_is_cut_off(transport: Transport, sign_in: SignIn, slug: str):
    page = open_label(transport, sign_in, slug, mixed="23:30")  # its discard names the day: the longest line there is
    page.emulate_media(media="print")

    for label in page.locator(".label").all():
        wide, high = SIZES[label.get_attribute("data-vessel") or ""]
        box = label.bounding_box()
        assert box is not None
        assert (box["width"] / MM, box["height"] / MM) == (pytest.approx(wide, abs=0.1), pytest.approx(high, abs=0.1))
        assert label.evaluate("each => each.scrollHeight <= each.clientHeight && each.scrollWidth <= each.clientWidth")
        assert label.evaluate("each => [...each.children].every((line) => line.scrollWidth <= line.clientWidth + 1)"), (
            "a line is cut off"
        )


@pytest.mark.parametrize("slug", SLUGS)
def test_the_letters_of_the_name_are_as_high_as_the_standard_wants(transport: Transport, sign_in: SignIn, slug: str):
    page = open_label(transport, sign_in, slug)
    page.emulate_media(media="print")
    size = page.locator(".label-drug").first.evaluate("name => parseFloat(getComputedStyle(name).fontSize)")

    assert size * CAPITAL / MM >= LEAST_LETTER_MM


def test_the_printer_gets_each_label_on_a_page_of_its_own_size_and_nothing_else(transport: Transport, sign_in: SignIn):
    page = open_label(transport, sign_in, "phenylephrine-push-dose")

    printed = page.pdf(prefer_css_page_size=True, print_background=True).decode("latin-1")

    pages = [tuple(map(float, found)) for found in re.findall(r"MediaBox *\[0 0 ([\d.]+) ([\d.]+)\]", printed)]
    wanted = [tuple(side * POINT for side in SIZES[vessel]) for vessel in ("bag", "syringe")]
    assert pages == [pytest.approx(each, abs=1) for each in wanted]


@pytest.mark.night
def test_what_is_no_label_is_not_printed(transport: Transport, sign_in: SignIn):
    page = open_label(transport, sign_in, "epinephrine-push-dose")
    page.emulate_media(media="print")

    for hidden in ("#strip", ".foot", ".labels-form", ".labels-head", "#print"):
        expect(page.locator(hidden)).to_be_hidden()
    expect(page.locator(".label")).to_be_visible()


@pytest.mark.night
def test_epinephrine_is_told_from_the_other_vasopressors_by_more_than_color(transport: Transport, sign_in: SignIn):
    """Same violet, ten times the strength apart: the name in a black bar, the words in ink."""
    page = open_label(transport, sign_in, "epinephrine-push-dose")
    style = "name => getComputedStyle(name).backgroundColor"
    assert page.locator(".label-drug").evaluate(style) == "rgb(0, 0, 0)"

    page = open_label(transport, sign_in, "phenylephrine-push-dose")
    assert page.locator(".label-drug").first.evaluate(style) == "rgba(0, 0, 0, 0)"
    assert page.locator(".label").first.inner_text().count("Vasopressor, violet in ISO 26825") == 1


def test_the_button_prints(transport: Transport, sign_in: SignIn):
    page = open_label(transport, sign_in, "epinephrine-push-dose")
    page.evaluate("window.print = () => { document.title = 'printed'; }")

    page.get_by_role("button", name="Print 1 label").click()

    expect(page).to_have_title("printed")


@pytest.mark.parametrize("slug", ["epinephrine-push-dose", "norepinephrine-infusion", "naloxone"])
@pytest.mark.night
def test_axe_finds_nothing_serious(transport: Transport, sign_in: SignIn, slug: str):
    page = open_label(transport, sign_in, slug)

    assert serious_faults(page) == []


@pytest.mark.night
def test_no_wider_than_a_phone(transport: Transport, sign_in: SignIn):
    page = open_label(transport, sign_in, "phenylephrine-push-dose", size=PHONE)

    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]


def test_a_label_that_does_not_fit_refuses_to_print_and_says_so(transport: Transport, sign_in: SignIn):
    page = open_label(transport, sign_in, "epinephrine-push-dose")
    expect(page.get_by_role("button", name="Print 1 label")).to_be_enabled()
    refusal = page.get_by_text("Not printed: this label does not fit its size.")
    expect(refusal).to_be_hidden()

    page.locator(".label-whose b").evaluate("name => { name.textContent = 'Kestrel 2 '.repeat(20); }")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")

    expect(page.get_by_role("button", name="Print 0 of 1 label")).to_be_disabled()
    expect(refusal).to_be_visible()
    page.emulate_media(media="print")
    expect(page.locator(".label")).to_be_hidden()
    expect(refusal).to_be_visible()


@pytest.mark.night
def test_a_label_that_was_not_measured_is_not_printed(transport: Transport, sign_in: SignIn):
    """Without the script nobody has looked whether it fits."""
    page = open_label(transport, sign_in, "epinephrine-push-dose", java_script_enabled=False)
    page.emulate_media(media="print")

    expect(page.locator(".label")).to_be_hidden()
    expect(page.get_by_text("Not printed: this label")).to_be_visible()


@pytest.mark.night
def test_the_time_is_of_24_hours_and_no_violet_button_stands_by_a_violet_label(transport: Transport, sign_in: SignIn):
    page = open_label(transport, sign_in, "epinephrine-push-dose", mixed="23:30")

    expect(page.get_by_label("Time mixed or drawn up")).to_have_value("23:30")
    expect(page.locator("input[type=time]")).to_have_count(0)
    ink = page.evaluate("getComputedStyle(document.body).color")
    expect(page.locator("#print")).to_have_css("background-color", ink)


def test_another_time_typed_holds_print_until_the_label_bears_it(transport: Transport, sign_in: SignIn):
    page = open_label(transport, sign_in, "epinephrine-push-dose", mixed="23:30")
    held, field = page.locator("#held"), page.locator('[name="mixed"]')

    for typed, words in (("25:00", "hours and minutes, such as 14:05"), ("2331", "press Show first")):
        field.evaluate(
            "(field, text) => { field.value = text; field.dispatchEvent(new Event('input', { bubbles: true })); }",
            typed,
        )
        expect(held).to_contain_text(words)
        expect(page.locator("#print")).to_be_disabled()
        expect(page.locator(".label")).to_be_hidden()
    page.get_by_role("button", name="Show").click()

    expect(page.locator(".label-times")).to_contain_text("Mixed 23:31")
    expect(page.locator("#print")).to_be_enabled()
