"""A case of which no physician has control: nobody decides, and nobody may know that it is theirs to do."""

from __future__ import annotations

from datetime import timedelta

from dosing.watch.look import MEDIUM, Look, clock


def control(look: Look) -> None:
    """No physician has had control for too long, since the case was heard of or since one gave it up."""
    since = look.facts.not_accepted_since
    if since is None:
        return
    late_at = since + timedelta(seconds=look.rules.watch.not_accepted_s)
    if look.passed(late_at):
        look.stands("not_accepted", "control", MEDIUM, f"No physician has control since {clock(since)}", late_at)
