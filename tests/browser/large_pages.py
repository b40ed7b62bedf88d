"""The rules page has one template for dozens of treatments: by day some of them are looked at."""

from __future__ import annotations

from playwright.sync_api import Page

from tests.depth import NIGHT

EVERY = 6
LEAVE_SOME = """(every) => [...document.querySelectorAll("details.fold:not(#adoptions, #sources)")]
  .forEach((part, number) => { if (number % every) part.remove(); })"""


def leave_some(page: Page) -> None:
    """Take most parts of an open rules page away, by day."""
    if not NIGHT:
        page.evaluate(LEAVE_SOME, EVERY)
        assert page.locator("details.fold").count() > EVERY
