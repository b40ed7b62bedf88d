"""The sweep's second, independent trigger: it takes over when beat or worker fall silent."""

import logging
import threading
from datetime import datetime, timedelta

from django.db import Error, close_old_connections

from consult import clock, heartbeat
from consult.actions import alerts

log = logging.getLogger(__name__)
EVERY_SECONDS = 1.0
# Several missed ticks, and soon enough that no alert comes more than 10 s late through the death of any process.
SILENT = timedelta(seconds=5)


class SecondTrigger(threading.Thread):
    """Looks at the heartbeat each second, and sweeps itself from the moment that it is older than 5 s.

    It goes on as long as the newest heartbeat is its own, so a dead worker costs one late sweep and not one in five.
    """

    def __init__(self, stopping: threading.Event) -> None:
        super().__init__(name="second-trigger", daemon=True)
        self.stopping = stopping
        self.own: datetime | None = None

    def run(self) -> None:
        """Look until the board stops; a fault of the database is logged and tried again."""
        while not self.stopping.is_set():
            try:
                self.look(clock.now())
            except Error as fault:
                log.warning("second trigger: %s", type(fault).__name__)
            finally:
                close_old_connections()
            self.stopping.wait(EVERY_SECONDS)

    def look(self, now: datetime) -> bool:
        """Sweep if nobody else does; whether it did."""
        at = heartbeat.last("sweep")
        if at is not None and at != self.own and now - at < SILENT:
            return False
        alerts.sweep(now)
        self.own = heartbeat.last("sweep")
        return True
