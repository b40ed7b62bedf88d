"""Findings about two drugs that must not act together: what was given shortly before, or runs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from dosing.check import earlier
from dosing.check.bands import fits
from dosing.check.case import INTO_THE_BLOOD, Question
from dosing.check.findings import Finding
from dosing.ground import text
from dosing.ground.facts import Amount, Dose
from dosing.ground.language import gettext as _
from dosing.rules.parts import Apart

SAME_DAY_MIN = 12 * 60  # a time of day says for so long which it was: common practice, no source


def findings(question: Question, aparts: Iterable[Apart]) -> Iterator[Finding]:
    """Of each the newest dose that speaks against what is asked about; the same words once."""
    told: set[str] = set()
    for rule in aparts:
        if not fits(rule.where, question.limits.person):
            continue
        against = (_against(question, rule, dose) for dose in question.bedside.newest_of(rule.drugs))
        found = next((each for each in against if each is not None), None)
        if found is not None and found.text not in told:
            told.add(found.text)
            yield found


def ago(at: datetime, dose: Dose, runs: bool) -> str:
    """How long ago the other was given."""
    minutes = (at - dose.given_at) / timedelta(minutes=1)
    return _("is running") if runs else _("{time} before", time=text.minutes_text(minutes))


def _against(question: Question, rule: Apart, dose: Dose) -> Finding | None:
    bedside = question.bedside
    known = bedside.rules.treatments.get(dose.treatment)
    if dose.route not in ("", *(rule.routes or INTO_THE_BLOOD)):
        return None
    if rule.indications and earlier.for_what(dose.indication, known) not in rule.indications:
        return None
    runs = known is not None and known.form == "infusion" and bedside.running(dose)
    last = dose.ended_at or dose.given_at
    if not _acts(rule, bedside.at - last, runs):
        return None
    since = ago(bedside.at, dose, runs)
    if not runs and rule.minutes <= SAME_DAY_MIN:  # so it stands still, as what an order covers must
        since = _("at {time}", time=text.clock(last))
    words = f"{known.title if known else dose.name} {since}: {rule.text}"
    code = "contraindicated" if rule.level == "over_hard_limit" else "history"
    return question.find(code, words, rule.source, Amount(rule.minutes, "min"), rule.level)


def _acts(rule: Apart, since: timedelta, runs: bool) -> bool:
    """Whether the other still acts, and no other rule tells it."""
    if rule.after_minutes is not None and (runs or since <= timedelta(minutes=rule.after_minutes)):
        return False
    return runs or since <= timedelta(minutes=rule.minutes)
