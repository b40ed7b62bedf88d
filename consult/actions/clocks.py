"""The clock of who sends: how far it is off stands beside the times of an entry, and far off is an alert."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from dosing.text import minutes_text
from dosing.watch import Cause

if TYPE_CHECKING:
    from consult.actions.entry import Draft

TOLERATED = timedelta(minutes=2)
WORTH_TELLING_S = 1  # below it lies the way through the network


def apart(data: dict[str, Any]) -> tuple[dict[str, Any], float | None]:
    """The content without what is known of the sender's clock, and that: seconds behind the server's, or None."""
    if "clock_offset_s" not in data:
        return data, None
    content = dict(data)
    return content, content.pop("clock_offset_s")


def told(offset_s: float | None) -> int | None:
    """The offset as the journal keeps it, in whole seconds; None where it is none."""
    return None if offset_s is None or abs(offset_s) < WORTH_TELLING_S else round(offset_s)


def judge(draft: Draft) -> None:
    """Raise `clock_offset`, or clear it once the clock agrees again; says nothing where the sender said nothing."""
    offset_s = draft.clock_offset_s
    if offset_s is None:
        return
    if abs(offset_s) <= TOLERATED.total_seconds():
        draft.ended.append(("clock_offset", "clock", "the clock agrees again"))
        return
    side = "behind" if offset_s > 0 else "ahead of"
    text = f"The sender's clock is {minutes_text(abs(offset_s) / 60)} {side} the server's"
    draft.happened.append(Cause("clock_offset", "clock", "low", text, draft.now))
