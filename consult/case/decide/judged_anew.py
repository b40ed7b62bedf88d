"""What a late entry, or one taken back, changes about the doses given after it.

Their stored checks stay as they were made; a new journal line tells the new one, the card goes by it, and a dose that
lies outside limits only now raises its alarm. Told is only what the entry itself changed: a weight or a rule that is
another one since then says nothing about a dose of before.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from itertools import takewhile

from msgspec.structs import replace

from consult import events, problems
from consult.case import order_words
from consult.case.checks import checked, renewed
from consult.case.decide import by_name
from consult.case.decide.asked import DOSE_OUTSIDE_LIMITS, Decided, Ended, Known, StoredDose, alarm, outside
from consult.case.decide.then import facts_then
from consult.case.dose import proposal_of
from consult.case.fold.ordered import READ_BACK
from consult.state.case import CaseState
from consult.state.check import Finding
from consult.state.parts import KeptReading
from dosing.check.findings import BEYOND
from dosing.ground.facts import Facts, Order
from dosing.ground.language import gettext as _

Findings = dict[str, Finding]


def judged_anew(
    known: Known,
    after: Callable[[], CaseState],
    because: str,
    at: datetime,
    *,
    taken_back: bool = False,
    new: KeptReading | None = None,
) -> Decided:
    """Judge anew what this crew gave after `at`, by the state that comes `after` the entry `because`.

    What is `taken_back` also ends the alarm of a dose that is outside limits no more; `new` is a set just told.
    """
    decided, later = Decided(), _given_after(known, at)
    then = after() if later else known.state
    for stored in later:
        before = _findings(known, known.state, stored, None)
        now = _findings(known, then, stored, new)
        decided.add(_told(then, stored, before, now, because, taken_back=taken_back))
    return decided


def _given_after(known: Known, at: datetime) -> tuple[StoredDose, ...]:
    """This crew's doses after a moment, oldest first; nothing is looked up where the state knows of none."""
    later = takewhile(lambda dose: dose.given_at > at, reversed(known.state.doses))
    mine = [dose.id for dose in later if not (dose.in_error or dose.prior) and dose.treatment in known.rules.treatments]
    return known.past.doses(mine) if mine else ()


def _findings(known: Known, state: CaseState, stored: StoredDose, new: KeptReading | None) -> Findings:
    """What the rules find in a dose by what is known of the time up to it, by code.

    Nothing where another patient or rule set since then makes its unit one that they cannot judge.
    """
    at = stored.entry.given_at
    try:
        facts = _without(facts_then(state, known.past, at, new), stored)
        entry = by_name.for_what(stored.entry, stored.order)
        check = checked(proposal_of(entry, at), facts, known.rules, as_counted(stored))
    except problems.Invalid:
        return {}
    return {finding.code: finding for finding in reversed(check.findings)}  # of one code the gravest


def _without(facts: Facts, stored: StoredDose) -> Facts:
    """The facts without the dose itself, with the weight by which it was judged."""
    weight = stored.check.weight_used
    patient = replace(facts.patient, weight=weight) if weight else facts.patient
    return replace(facts, patient=patient, doses=tuple(dose for dose in facts.doses if dose.id != stored.id))


def as_counted(stored: StoredDose) -> Order | None:
    """The order as it stood when this dose was given as it asks; None where the dose was not counted for one."""
    order, at = stored.order, stored.entry.given_at
    times = sorted(order.given_at) if order else []
    if order is None or at not in times:
        return None
    stood = replace(order, state=READ_BACK, given=times.index(at))
    return stood.for_rules(order_words.sentence(order))


def _told(
    after: CaseState, stored: StoredDose, before: Findings, now: Findings, because: str, *, taken_back: bool
) -> Decided:
    """The new check where it is another one; it raises the dose's alarm, or ends it."""
    gone = before.keys() - now.keys()
    news = {code: finding for code, finding in now.items() if _says_more(finding, before.get(code))}
    dose = after.dose(stored.id)
    if dose.in_error or not (gone or news):
        return Decided()
    known, check = stored.check_now, renewed(stored.check_now, gone, news)
    was_beyond = {each.code for each in outside(known, voice=dose.voice_order)}
    found = outside(check, voice=dose.voice_order)
    raises = any(each.code in news and each.code not in was_beyond for each in found)
    ends = taken_back and not raises and not found
    event = events.InterventionJudgedAnew(
        intervention=stored.id,
        because=because,
        shown=dose.shown,
        check=check,
        # of an infusion the newest rate's check stands on the card
        verdict=check.verdict if len(dose.rates) < 2 else dose.verdict,
        flagged=(raises or stored.id in after.flagged) and not ends,
    )
    happened = [alarm(dose, found, stored.entry.given_at)] if raises else []
    why = _("an entry that counted against it was corrected")
    return Decided([event], happened, [Ended(DOSE_OUTSIDE_LIMITS, stored.id, why)] if ends else [])


def _says_more(finding: Finding, before: Finding | None) -> bool:
    """Whether a finding is new, of another level, or, beyond limits, in other words."""
    if before is None or finding.level != before.level:
        return True
    return finding.level in BEYOND and finding.text != before.text
