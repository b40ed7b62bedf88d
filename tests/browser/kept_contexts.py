"""Browser contexts used again: a new one would start a process, and fetch and compile all scripts, for each test."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page


@dataclass
class KeptContext:
    """A context and its blank page, which keeps the process of its pages alive."""

    context: BrowserContext
    blank: Page

    def empty(self, address: str) -> None:
        """Leave nothing of a test but the files that the server lets a browser keep."""
        for page in self.context.pages:
            if page is not self.blank:
                page.close()
        self.context.unroute_all()
        self.context.set_offline(False)
        self.context.clear_cookies()
        storage = self.context.new_cdp_session(self.blank)
        storage.send("Storage.clearDataForOrigin", {"origin": address, "storageTypes": "all"})
        storage.detach()


@dataclass
class KeptContexts:
    """The contexts of one browser by how they were made; one is lent to one test at a time."""

    browser: Browser
    free: dict[str, list[KeptContext]] = field(default_factory=lambda: defaultdict(list))
    lent: list[tuple[str, KeptContext]] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)  # of the pages' scripts

    def lend(self, **how: Any) -> BrowserContext:
        """A context made so, as empty as a new one."""
        name = repr(sorted(how.items()))
        kept = self.free[name].pop() if self.free[name] else self._make(how)
        self.lent.append((name, kept))
        return kept.context

    def _make(self, how: dict[str, Any]) -> KeptContext:
        context = self.browser.new_context(**how)
        context.on("weberror", lambda told: self.faults.append(f"{told.page and told.page.url}: {told.error}"))
        return KeptContext(context, context.new_page())

    def take_back(self, address: str) -> None:
        """Empty what was lent for the next test; a script that failed on a page fails the test that had it."""
        faults, self.faults = self.faults, []
        while self.lent:
            name, kept = self.lent.pop()
            kept.empty(address)
            self.free[name].append(kept)
        assert not faults, "\n".join(faults)
