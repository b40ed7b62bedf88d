"""The one place that reads the clock, and the one spelling of a time.

Entrances read the clock once and hand the time down.
"""

from datetime import UTC, datetime


def now() -> datetime:
    """The present time, aware, in UTC."""
    return datetime.now(UTC)


def stamp(time: datetime) -> str:
    """The time in UTC as RFC 3339, as facts, cards and journal spell it."""
    return time.astimezone(UTC).isoformat().replace("+00:00", "Z")


def when(text: str) -> datetime:
    """The time that a stamp stands for."""
    return datetime.fromisoformat(text)
