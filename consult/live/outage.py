"""Says once that something stopped working and once that it works again, however often it is tried between."""

from __future__ import annotations

import logging

log = logging.getLogger(__name__)


class Outage:
    """The state of one thing that the hub depends on; errors are logged by type alone, since texts may hold data."""

    def __init__(self, what: str) -> None:
        self.what = what
        self.lasts = False

    def failed(self, error: BaseException) -> None:
        """It did not work this time."""
        if not self.lasts:
            log.warning("live: %s failed (%s); trying again", self.what, type(error).__name__)
        self.lasts = True

    def works(self) -> None:
        """It worked this time."""
        if self.lasts:
            log.info("live: %s works again", self.what)
        self.lasts = False
