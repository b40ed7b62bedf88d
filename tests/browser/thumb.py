"""A thumb on the crew's phone: it only presses, and each press is counted by the page itself."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from playwright.sync_api import Locator, expect

from tests.browser.conftest import Take
from tests.browser.crew_phone import Phone

# Whatever gets onto a page counts, on each page of the tab: a press, a key of a keyboard, a text by any other way.
COUNTED = """
const count = () => { sessionStorage.presses = Number(sessionStorage.presses ?? 0) + 1; };
addEventListener("pointerup", count, true);
addEventListener("keydown", count, true);
const typed = ({ isTrusted, target }) => isTrusted && ["text", "number"].includes(target.type);
addEventListener("input", (event) => typed(event) && count(), true);
"""


@dataclass
class Thumb:
    """A phone that is touched and nothing else."""

    phone: Phone

    @property
    def presses(self) -> int:
        """How often the phone was pressed since it was last asked."""
        count = "const presses = Number(sessionStorage.presses ?? 0); sessionStorage.presses = 0; return presses;"
        return int(self.phone.page.evaluate(f"() => {{ {count} }}"))

    def on(self, place: Locator) -> None:
        place.tap()

    def main(self, words: str | re.Pattern[str]) -> None:
        """The one main button, once it says so and can be pressed."""
        expect(self.phone.main).to_contain_text(words)
        expect(self.phone.main).not_to_have_attribute("aria-disabled", "true")
        self.phone.main.tap()

    def pick(self, text: str) -> None:
        self.phone.page.locator("label.pick:visible", has_text=re.compile(rf"(?<![A-Z0-9.]){re.escape(text)}")).tap()

    def link(self, text: str | re.Pattern[str]) -> None:
        """A link or a button in sight, and the page to which it leads."""
        self.phone.page.get_by_role("link", name=text).or_(self.phone.page.get_by_role("button", name=text)).tap()
        self.phone.ready()

    def keys(self, digits: str) -> None:
        """Number keys of the page; a blank is the key that leads to the next field."""
        for digit in digits:
            self.phone.page.locator(f'[data-key="{"next" if digit == " " else digit}"]').tap()


def thumb_on(take: Take, path: str = "", **how: Any) -> Thumb:
    """Take the phone in hand on a page of the case."""
    return Thumb(take(path, script=COUNTED, **how))
