"""A crew's phone: pages opened at its size, fields filled as a thumb does it, the link cut and mended."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from playwright.sync_api import Page, Route, expect

PHONE: dict[str, Any] = {"size": (390, 844), "has_touch": True}


@dataclass
class Phone:
    """One page on the phone of Kestrel 2's crew."""

    page: Page
    case: str

    def open(self, path: str = "") -> Phone:
        """Open a page of the case and wait until its script has started."""
        self.page.goto(f"{self.page.url.split('/crew/')[0]}/crew/{self.case}/{path}")
        return self.ready()

    def ready(self) -> Phone:
        expect(self.page.locator("html")).to_have_attribute("data-ready", "yes")
        return self

    def pick(self, text: str) -> None:
        """Choose what bears exactly this text."""
        self.page.locator("label.pick:visible").filter(has_text=re.compile(rf"^\s*{re.escape(text)}\s*$")).click()

    def dose(self, text: str) -> None:
        """Choose the amount of this text, whatever its volume beside it."""
        self.page.locator("label.pick").filter(has=self.page.locator(f'[name="dose"][value="{text}"]')).click()

    def type(self, **values: float) -> None:
        """Type numbers into the fields of these names."""
        for name, value in values.items():
            self.page.locator(f'input[name="{name}"]').fill(str(value))

    @property
    def main(self) -> Any:
        """The one main button."""
        return self.page.locator("#main-button")

    def sure(self, asked: str = "Sure?") -> None:
        """Press the main button and answer its question by pressing again."""
        self.main.click()
        expect(self.main).to_contain_text(asked)
        expect(self.main).to_have_attribute("aria-disabled", "false")
        self.main.click()

    @property
    def link(self) -> Any:
        return self.page.locator("#link-text")

    @property
    def outcome(self) -> Any:
        return self.page.locator(".outcome")

    def cut(self) -> None:
        """Nothing that this page sends arrives any more; pages themselves still load, as after a moment of link."""
        for pattern in PATTERNS:
            self.page.context.route(pattern, refuse)

    def mend(self) -> None:
        for pattern in PATTERNS:
            self.page.context.unroute(pattern, refuse)
        self.page.evaluate("dispatchEvent(new Event('online'))")


PATTERNS = ("**/api/v1/**", "**/crew/who/", "**/healthz")


def refuse(route: Route) -> None:
    route.abort("internetdisconnected")


def taken(sign_in: Any, transport: Any, path: str) -> Phone:
    """The phone in hand on a page of the transport's case, which its address may lead to in part."""
    page = sign_in("osk", f"/crew/{transport.uid}/{path}", **PHONE)
    page.wait_for_url("**/crew/**")
    return Phone(page, str(transport.uid)).open(path)
