"""One journal entry as it is folded."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from consult.events import Event
from consult.state.parts import Author


@dataclass(frozen=True, slots=True)
class Entry:
    """An event with when it happened by the corrected clock, when it was received, and by whom; nobody is the clock."""

    event: Event
    at: datetime
    received_at: datetime
    by: Author | None = None
