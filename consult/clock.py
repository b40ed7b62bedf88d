"""The one place that reads the clock; entrances read it once and hand the time down."""

from datetime import UTC, datetime


def now() -> datetime:
    """The present time, aware, in UTC."""
    return datetime.now(UTC)
