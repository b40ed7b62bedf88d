"""When the regular work last ran to its end: what /readyz, the screens and the second trigger judge by."""

from datetime import datetime, timedelta

from consult.models.journal import Heartbeat

MAY_REST = timedelta(seconds=30)


def last(name: str) -> datetime | None:
    """The last time that the task of this name ("sweep", "seal") ended well; None before the first."""
    return Heartbeat.objects.filter(name=name).values_list("at", flat=True).first()
