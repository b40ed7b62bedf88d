"""The clock of who sends: times are put right by how far it is off, and a clock far off is an alert.

Times are kept as they were sent, with the offset beside them; all else goes by the corrected ones. What a sender places
after its own receipt has happened by then: without `sent_at` a clock that is ahead would else hide what comes after it.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from consult.clock import put_right
from dosing.text import minutes_text
from dosing.watch import Cause

if TYPE_CHECKING:
    from consult.actions.entry import Draft

TOLERATED = timedelta(minutes=2)
TRANSIT_S = 30  # so long an entry may have been under way: no fault of a clock (contract, "Times")
WORTH_TELLING_S = 1
PLANS = frozenset({"eta", "until"})  # what is to come may lie ahead


def apart(data: dict[str, Any]) -> tuple[dict[str, Any], float | None]:
    """The content as it was sent, and how many seconds the sender's clock is behind; None where it did not say."""
    if "clock_offset_s" not in data:
        return data, None
    content = dict(data)
    return content, content.pop("clock_offset_s")


def applied(offset_s: float | None) -> int | None:
    """By how many whole seconds the times of a write are corrected; None where they stand as they were sent."""
    if offset_s is None or abs(offset_s) < WORTH_TELLING_S or 0 <= round(offset_s) <= TRANSIT_S:
        return None
    return round(offset_s)


def corrected(content: Any, offset_s: int | None, now: datetime, plans: frozenset[str] = PLANS) -> Any:
    """The content with each time in it put right; `plans` names the times that may lie ahead of `now`."""
    if isinstance(content, datetime):
        return put_right(content, offset_s, now)
    if isinstance(content, dict):
        return {
            name: put_right(value, offset_s) if name in plans and value else corrected(value, offset_s, now, plans)
            for name, value in content.items()
        }
    return content


def judge(draft: Draft) -> None:
    """Raise `clock_offset`, or clear it once the clock agrees again; says nothing where the sender said nothing.

    Each sender has a clock of its own: one that is right says nothing about another's.
    """
    offset_s = draft.clock_offset_s
    if offset_s is None:
        return
    cause = str(draft.sender.membership)
    if abs(offset_s) <= TOLERATED.total_seconds():
        draft.ended.append(("clock_offset", cause, "the clock agrees again"))
        return
    side = "behind" if offset_s > 0 else "ahead of"
    text = f"The clock of {draft.sender.name} is {minutes_text(abs(offset_s) / 60)} {side} the server's"
    draft.happened.append(Cause("clock_offset", cause, "low", text, draft.now))


def not_before(draft: Draft, at: datetime, start: datetime, offset_s: int | None) -> datetime | None:
    """`at`, or the start itself where only two corrections by unlike transits put it just before; None: truly before.

    `offset_s` is the correction of the entry that tells of the start.
    """
    if at >= start:
        return at
    both_told = draft.offset_s is None and offset_s is None
    return None if both_told or start - at > timedelta(seconds=TRANSIT_S) else start
