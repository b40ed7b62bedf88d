"""Times as people read them: in their agency's zone, which a page names once. Data, API and journal are in UTC.

A text that is kept says a clock time in UTC (`consult.clock.utc`); a page reads it out with `here`. In the hour that a
clock put back shows twice, a time names its zone itself; a moment of another day names its day.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils import timezone

from consult import clock as clocks

KEPT = re.compile(r"\b([01]\d|2[0-3]):([0-5]\d)(?::([0-5]\d))? UTC\b")
DAY = timedelta(days=1)
_tells_of: ContextVar[datetime | None] = ContextVar("tells_of", default=None)


def of(name: str) -> AbstractContextManager[None]:
    """Read times in this zone, an IANA name, while the block runs."""
    return timezone.override(ZoneInfo(name))


@contextmanager
def telling_of(moment: datetime) -> Iterator[None]:
    """Read moments of that day without their day while the block runs, instead of those of today."""
    token = _tells_of.set(moment)
    try:
        yield
    finally:
        _tells_of.reset(token)


def today() -> str:
    """The day whose moments are told without it: today, but where a page tells of another."""
    return date(_tells_of.get() or clocks.now())


def moment(at: datetime) -> str:
    """Hours and minutes, of another day after that: ``05:04``, ``4 Jan 05:04``."""
    return _dated(at, clock(at))


def moment_seconds(at: datetime) -> str:
    """The same with seconds: ``4 Jan 05:04:09``."""
    return _dated(at, clock_seconds(at))


def clock(at: datetime) -> str:
    """Hours and minutes: ``05:04``."""
    return _clock(at, "%H:%M")


def clock_seconds(at: datetime) -> str:
    """Hours, minutes and seconds: ``05:04:09``."""
    return _clock(at, "%H:%M:%S")


def day(at: datetime) -> str:
    """Day and month: ``5 Jan``."""
    local = timezone.localtime(at)
    return f"{local.day} {local:%b}"


def date(at: datetime) -> str:
    """Day, month and year: ``5 Jan 2030``."""
    return f"{day(at)} {year(at)}"


def year(at: datetime) -> str:
    """The year."""
    return f"{timezone.localtime(at).year}"


def here(text: str, near: datetime) -> str:
    """A kept text with its clock times as they are read here; of the days it may mean, that nearest to `near`."""
    return KEPT.sub(lambda found: _read_out(found, near.astimezone(UTC)), text)


def names(moments: Iterable[datetime]) -> str:
    """What the zone is called at these moments, in their order: ``MDT (UTC−6), MST (UTC−7)``."""
    return ", ".join(dict.fromkeys(_name(timezone.localtime(at)) for at in sorted(moments)))


def short_name(at: datetime) -> str:
    """What the zone is called at a moment, short: ``MST``."""
    return _short_name(timezone.localtime(at))


def _dated(at: datetime, told: str) -> str:
    return told if date(at) == today() else f"{day(at)} {told}"


def _clock(at: datetime, how: str) -> str:
    local = timezone.localtime(at)
    twice = local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
    return f"{local:{how}} {_short_name(local)}" if twice else f"{local:{how}}"


def _read_out(found: re.Match[str], near: datetime) -> str:
    hour, minute, second = (int(part or 0) for part in found.groups())
    that_day = near.replace(hour=hour, minute=minute, second=second, microsecond=0)
    at = min((that_day + days * DAY for days in (-1, 0, 1)), key=lambda each: abs(each - near))
    return clock_seconds(at) if found[3] else clock(at)


def _name(local: datetime) -> str:
    offset, name = _offset(local), local.tzname() or ""
    return f"{name} ({offset})" if name.isalpha() and name != offset else offset


def _short_name(local: datetime) -> str:
    name = local.tzname() or ""
    return name if name.isalpha() else _offset(local)


def _offset(local: datetime) -> str:
    """``UTC−7``, ``UTC+5:30``, ``UTC``."""
    minutes = round((local.utcoffset() or timedelta()) / timedelta(minutes=1))
    hours, rest = divmod(abs(minutes), 60)
    sign = "−" if minutes < 0 else "+"
    return f"UTC{sign}{hours}{f':{rest:02}' if rest else ''}" if minutes else "UTC"
