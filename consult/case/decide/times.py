"""The clock of who sends: times are put right by how far it is off, and a clock far off is an alert.

Times are kept as they were sent, with the offset beside them; all else goes by the corrected ones. What a sender places
after its own receipt has happened by then: without `sent_at` a clock that is ahead would else hide what comes after it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from consult.case.decide.asked import Decided, Ended
from consult.clock import put_right
from consult.state.parts import Author
from dosing.ground.language import gettext as _
from dosing.ground.text import minutes_text
from dosing.watch.causes import Cause

TOLERATED = timedelta(minutes=2)
TRANSIT_S = 30  # so long an entry may have been under way: no fault of a clock (contract, "Times")
WORTH_TELLING_S = 1
PLANS = frozenset({"eta", "until"})  # what is to come may lie ahead
CLOCK_OFFSET = "clock_offset"


def applied(offset_s: float | None) -> int | None:
    """By how many whole seconds the times of a write are corrected; None where they stand as they were sent."""
    if offset_s is None or abs(offset_s) < WORTH_TELLING_S or 0 <= round(offset_s) <= TRANSIT_S:
        return None
    return round(offset_s)


def corrected(
    content: Mapping[str, object], offset_s: int | None, now: datetime, plans: frozenset[str] = PLANS
) -> dict[str, object]:
    """The content with each time in it put right, in UTC; `plans` names the times that may lie ahead of `now`."""
    return {name: _put_right(value, offset_s, None if name in plans else now, plans) for name, value in content.items()}


def _put_right(value: object, offset_s: int | None, now: datetime | None, plans: frozenset[str]) -> object:
    if isinstance(value, datetime):
        return put_right(value, offset_s, now).astimezone(UTC)
    if isinstance(value, dict):
        return corrected(value, offset_s, now, plans) if now else value
    return value


def judged(offset_s: float | None, by: Author, now: datetime) -> Decided:
    """The cause of `clock_offset`, or its end once the clock agrees again; nothing where the sender said nothing.

    Each sender has a clock of its own: one that is right says nothing about another's.
    """
    if offset_s is None:
        return Decided()
    if abs(offset_s) <= TOLERATED.total_seconds():
        return Decided(ended=[Ended(CLOCK_OFFSET, by.id, _("the clock agrees again"))])
    off = minutes_text(abs(offset_s) / 60)
    text = (
        _("The clock of {by} is {time} behind the server's", by=by.name, time=off)
        if offset_s > 0
        else _("The clock of {by} is {time} ahead of the server's", by=by.name, time=off)
    )
    return Decided(happened=[Cause(CLOCK_OFFSET, by.id, "low", text, now)])


def not_before(at: datetime, start: datetime, offset_s: int | None, offset_of_start_s: int | None) -> datetime | None:
    """`at`, or the start itself where only two corrections by unlike transits put it just before; None: truly before.

    `offset_of_start_s` is the correction of the entry that tells of the start.
    """
    if at >= start:
        return at
    uncorrected = offset_s is None and offset_of_start_s is None
    return None if uncorrected or start - at > timedelta(seconds=TRANSIT_S) else start
