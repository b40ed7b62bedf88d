"""The one place that reads the clock, the one spelling of a time, and the one correction of a sender's.

Entrances read the clock once and hand the time down.
"""

from datetime import UTC, datetime, timedelta


def now() -> datetime:
    """The present time, aware, in UTC."""
    return datetime.now(UTC)


def stamp(time: datetime) -> str:
    """The time in UTC as RFC 3339, as facts, cards and journal spell it."""
    return time.astimezone(UTC).isoformat().replace("+00:00", "Z")


def when(text: str) -> datetime:
    """The time that a stamp stands for."""
    return datetime.fromisoformat(text)


def utc(time: datetime) -> str:
    """A clock time for a text that is kept or sent: ``12:04 UTC``."""
    return f"{time.astimezone(UTC):%H:%M} UTC"


def utc_seconds(time: datetime) -> str:
    """The same with its seconds: ``12:04:09 UTC``."""
    return f"{time.astimezone(UTC):%H:%M:%S} UTC"


def put_right(time: datetime, offset_s: float | None, received_at: datetime | None = None) -> datetime:
    """A time by a sender's clock that is `offset_s` behind; nothing has happened after it was heard of."""
    moved = time + timedelta(seconds=offset_s) if offset_s else time
    return moved if received_at is None else min(moved, received_at)
