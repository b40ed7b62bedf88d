"""Questions without a drug that nobody answers, instructions that nobody confirms to have understood."""

from __future__ import annotations

from datetime import timedelta

from dosing.ground.language import gettext as _
from dosing.ground.waiting import Waiting
from dosing.watch.look import MEDIUM, Look, clock


def waits(look: Look, each: Waiting) -> None:
    """Words alone are understood as soon as an order of words alone is read back; an answer may take longer."""
    rule, since = look.rules.watch, clock(each.since)
    seconds = rule.question_alarm_s if each.asked else rule.waiting_s
    if not look.passed(too_long := each.since + timedelta(seconds=seconds)):
        return
    if each.asked:
        look.stands(
            "question_waiting",
            each.id,
            MEDIUM,
            _("Question waiting since {since}: {about}", since=since, about=each.about),
            too_long,
        )
    else:
        look.stands(
            "readback_waiting", each.id, MEDIUM, _("Instruction not confirmed since {since}", since=since), too_long
        )
