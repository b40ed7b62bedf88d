"""A case of which no physician has control, or no crew knows: nobody may know that it is theirs to do."""

from __future__ import annotations

from datetime import timedelta

from dosing.ground.language import gettext as _
from dosing.watch.look import MEDIUM, Look, clock


def control(look: Look) -> None:
    """No physician has had control for too long, since the case was heard of or since one gave it up."""
    since = look.facts.not_accepted_since
    if since is None:
        return
    late_at = since + timedelta(seconds=look.rules.watch.not_accepted_s)
    if look.passed(late_at):
        look.stands(
            "not_accepted", "control", MEDIUM, _("No physician has control since {since}", since=clock(since)), late_at
        )


def moved(look: Look) -> None:
    """Nobody of the crew to which the patient was moved has opened the case for too long."""
    since = look.facts.moved_not_seen_since
    if since is None:
        return
    late_at = since + timedelta(seconds=look.rules.watch.moved_not_seen_s)
    if look.passed(late_at):
        text = _("Moved here {since}, no crew of this unit has opened the case", since=clock(since))
        look.stands("moved_not_seen", "crew", MEDIUM, text, late_at)
