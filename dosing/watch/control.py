"""A case of which no physician has control, or no crew knows: nobody may know that it is theirs to do."""

from __future__ import annotations

from datetime import datetime, timedelta

from dosing.ground.language import gettext as _
from dosing.watch.look import MEDIUM, Look, clock


def control(look: Look) -> None:
    """No physician has had control for too long, since the case was heard of or since one gave it up."""
    words = _("No physician has control since {since}")
    _waits(look, look.facts.not_accepted_since, look.rules.watch.not_accepted_s, "not_accepted", "control", words)


def moved(look: Look) -> None:
    """Nobody of the crew to which the patient was moved has opened the case for too long."""
    words = _("Moved here {since}, no crew of this unit has opened the case")
    _waits(look, look.facts.moved_not_seen_since, look.rules.watch.moved_not_seen_s, "moved_not_seen", "crew", words)


def _waits(look: Look, since: datetime | None, longest_s: float, kind: str, cause: str, words: str) -> None:
    """Let the alert stand once it has lasted so many seconds."""
    if since is None:
        return
    late_at = since + timedelta(seconds=longest_s)
    if look.passed(late_at):
        look.stands(kind, cause, MEDIUM, words.format(since=clock(since)), late_at)
