"""How much one token or session may enter: so much at once, from then on so much a second.

Readings are never counted, and opening a case has an allowance of its own: too many notes keep no patient off the
board. Counted in this process alone (a generic cell rate, one number a sender), so that it asks neither the database
nor Redis and cannot fail with them; where several processes serve, each allows as much.
"""

from __future__ import annotations

import math
from datetime import datetime
from enum import StrEnum

from django.core.cache import caches
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from consult.actor import Actor
from consult.problems import TooMany

# A day without a link is sent at once (contract: at least 2,000 entries are); no crew enters one a second by hand.
BURST = 3000
PER_SECOND = 1.0


class Of(StrEnum):
    """What is counted together."""

    ENTRIES = "entries"
    CASES = "cases"


class TooMuch(TooMany):
    """More was entered than is allowed; the same entry may be sent again after `wait` seconds."""

    title = "Too many entries at once"

    def __init__(self, wait: float) -> None:
        self.wait = max(1, math.ceil(wait))
        super().__init__(
            f"Too many entries from here at once. Send it again in {self.wait} s; readings are still taken."
        )


def take(actor: Actor, what: Of, now: datetime) -> float | None:
    """Count one entry: None where it may come in, else in how many seconds it may (it is not counted then)."""
    kept, key, moment = caches["allowances"], f"{what}:{actor.token or actor.membership}", now.timestamp()
    whole = BURST / PER_SECOND
    before: float = kept.get(key, 0.0)
    # Never more than the whole burst ahead, unless this machine's clock was set back: nobody waits for that.
    used_up_to = (before if moment < before <= moment + whole else moment) + 1 / PER_SECOND
    if (wait := used_up_to - moment - whole) > 0:
        return wait
    kept.set(key, used_up_to, timeout=whole)
    return None


class Allowance(BaseThrottle):
    """Counts what a view enters (`counted`), alone; a batch counts its entries itself."""

    left_for: float | None = None

    def allow_request(self, request: Request, view: object) -> bool:
        """Whether the entry may come in now."""
        what: Of | None = getattr(view, "counted", None)
        if what and request.method in ("POST", "PATCH"):
            self.left_for = take(request.user, what, request.received_at)  # type: ignore[attr-defined, arg-type]
        return self.left_for is None

    def wait(self) -> float | None:
        """In how many seconds it may."""
        return self.left_for
