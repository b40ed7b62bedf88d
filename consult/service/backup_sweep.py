"""The sweep's second, independent trigger: it takes over when beat or worker fall silent."""

import logging
import threading
from datetime import datetime, timedelta

from django.db import Error, close_old_connections

from consult import clock, heartbeat, learned
from consult.actions import alerts

log = logging.getLogger(__name__)
EVERY_SECONDS = 1.0
# Several missed ticks, and soon enough that no alert comes more than 10 s late through the death of any process.
SILENT = timedelta(seconds=5)


def tell_outside() -> None:
    """Tell outside of the board what has escalated; a fault is logged, what was not told stays for the next time."""
    from consult.actions import (
        notifications,
    )  # with what speaks HTTP and TLS, which a board that is well needs not here

    try:
        notifications.deliver(clock.now())
    except Error as fault:
        log.warning("second trigger: %s", type(fault).__name__)
    finally:
        close_old_connections()


class SecondTrigger(threading.Thread):
    """Looks at the heartbeat each second, and sweeps itself from the moment that it is older than 5 s.

    It goes on as long as the newest heartbeat is its own, so a dead worker costs one late sweep and not one in five.
    """

    def __init__(self, stopping: threading.Event) -> None:
        super().__init__(name="second-trigger", daemon=True)
        self.stopping = stopping
        self.own: datetime | None = None
        self.telling: threading.Thread | None = None

    def run(self) -> None:
        """Look until the board stops; a fault of the database is logged and tried again."""
        learned.learn()
        while not self.stopping.is_set():
            try:
                if self.look(clock.now()):
                    self.tell()
            except Error as fault:
                log.warning("second trigger: %s", type(fault).__name__)
            finally:
                close_old_connections()
            self.stopping.wait(EVERY_SECONDS)

    def tell(self) -> None:
        """Send what waits to be told outside, beside the sweeps: whoever takes it may take 5 s."""
        if self.telling is None or not self.telling.is_alive():
            self.telling = threading.Thread(target=tell_outside, name="second-trigger-tells", daemon=True)
            self.telling.start()

    def look(self, now: datetime) -> bool:
        """Sweep if nobody else does; whether it did."""
        at = heartbeat.last("sweep")
        if at is not None and at != self.own and now - at < SILENT:
            return False
        alerts.sweep(now)
        self.own = heartbeat.last("sweep")
        return True
