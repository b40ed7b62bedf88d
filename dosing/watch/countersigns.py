"""Doses ordered by voice that wait for their physician's countersign."""

from __future__ import annotations

from datetime import timedelta

from dosing.ground.facts import Countersign
from dosing.ground.language import gettext as _
from dosing.watch.look import LOW, MEDIUM, Look

KIND = "countersign_waiting"


def countersigns(look: Look) -> None:
    """One cause for each physician who is named, low at first; also after the case has ended, for it still waits."""
    waiting: dict[str, list[Countersign]] = {}
    for each in look.facts.countersigns:
        waiting.setdefault(each.physician, []).append(each)
    for physician, doses in waiting.items():
        since = min(each.since for each in doses)
        long = look.passed(since + timedelta(minutes=look.rules.watch.countersign_min))
        look.stands(KIND, physician, MEDIUM if long else LOW, _text(doses), since)


def _text(doses: list[Countersign]) -> str:
    what = doses[0].shown if len(doses) == 1 else _("{doses} doses", doses=len(doses))
    return _("Ordered by voice, for {by} to countersign: {dose}", by=doses[0].by, dose=what)
