"""What axe finds on a page that keeps somebody from using it."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

ALL = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
WITHOUT_TARGETS = [tag for tag in ALL if tag != "wcag22aa"]
CONTRAST = ["color-contrast"]
Faults = list[tuple[str, list[str]]]


def serious_faults(page: Page, rules: list[str] = ALL) -> Faults:
    """Each rule, of those or of those so tagged, that is broken in a serious or critical way, with the elements."""
    options: dict[str, Any] = {"runOnly": rules, "resultTypes": ["violations"]}
    found = Axe().run(page, options=options).response["violations"]
    serious = [fault for fault in found if fault["impact"] in ("serious", "critical")]
    return [(fault["id"], [node["html"][:120] for node in fault["nodes"]]) for fault in serious]


def faults_in_light_and_dark(page: Page) -> Faults:
    """The same in light colors, and in dark ones what alone these change."""
    page.emulate_media(color_scheme="light")
    found = serious_faults(page)
    page.emulate_media(color_scheme="dark")
    return found + serious_faults(page, CONTRAST)
