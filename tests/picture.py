"""Take `docs/board.png` anew: `python -m tests.picture LINK`, LINK being the physician's of a demonstration that runs.

Best about a minute after the start: six units drive, alerts are raised, a request waits.
"""

from __future__ import annotations

import sys
from pathlib import Path

from playwright.sync_api import expect, sync_playwright

PLACE = Path(__file__).parent.parent / "docs" / "board.png"


def take(link: str, units: int = 6) -> None:
    """Sign in by the link, wait for the live board of all units, and keep it as it is on a screen of 1440 by 900."""
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1440, "height": 900}, reduced_motion="reduce")
        page.goto(link)
        page.locator("main button").click()
        expect(page.locator("#strip")).to_have_attribute("data-live", "live", timeout=20_000)
        expect(page.locator(".card")).to_have_count(units)
        page.evaluate("() => document.fonts.ready")
        page.screenshot(path=PLACE)
        browser.close()


if __name__ == "__main__":
    take(sys.argv[1])
