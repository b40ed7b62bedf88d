"""What a pressor may have done: a heart rate newly too fast or too slow, a systolic too high, ventricular tachycardia.

Worked out from doses and readings alone, so that late and corrected entries change it as if they had been there in
time. The clock says nothing here: what was seen stands until a later reading of the same measurement is fine, or was
taken after the window.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache

from dosing.ground.exact import exact, plain
from dosing.ground.facts import Dose, Facts, Patient, Reading
from dosing.ground.language import gettext as _
from dosing.ground.patient import child_age
from dosing.patient.children import heart_rate_band
from dosing.patient.reassess import others_only, started_at
from dosing.patient.rhythms import is_ventricular_tachycardia
from dosing.rules.rule_set import RuleSet, WatchRule
from dosing.watch.high_pressure import lowest_systolic

Event = tuple[datetime, str, str]  # when, which pressor in words, its id
RATES = ("fast", "slow")


@dataclass(frozen=True, slots=True)
class Seen:
    """One thing seen after a pressor: the cause within the alert's kind, its words, since when."""

    cause: str
    text: str
    since: datetime


@dataclass(frozen=True, slots=True)
class _Sign:
    """What to look for: the measurement, when its value is wrong, and whether that counts only if it is new.

    ``limit`` is that of a rate, which is news only once it lies well beyond or has changed by much; None: at once.
    """

    cause: str
    words: str
    measurement: str
    wrong: Callable[[object], bool]
    newly: bool = False
    limit: float | None = None


def after_pressor(facts: Facts, rules: RuleSet) -> list[Seen]:
    """What stands now; nothing for pressors that others gave before the crew came.

    ``Newly``: the run of wrong readings began within the window after a pressor, so that a heart that was fast before
    the first push says nothing. A rhythm that stands speaks for its rate too.
    """
    events = sorted(_events(facts.doses, rules))
    if not events:
        return []
    window = timedelta(minutes=rules.watch.after_pressor_min)
    found = [seen for sign in _signs(facts.patient, rules) if (seen := _seen(sign, facts, events, window, rules.watch))]
    beating = any(seen.cause == "rhythm" for seen in found)
    return [seen for seen in found if not (beating and seen.cause in RATES)]


def _events(doses: Sequence[Dose], rules: RuleSet) -> Iterator[Event]:
    """Each push, and each start and new rate of an infusion; of one that others started, the new rates alone."""
    for dose in doses:
        treatment = rules.treatments.get(dose.treatment)
        if treatment is None or treatment.drug_class != "pressor" or others_only(dose):
            continue
        changes = {dose.given_at, started_at(dose), *dose.set_at}
        changes -= {dose.given_at} if dose.prior else set()
        yield from ((moment, treatment.title, dose.id) for moment in changes)


def told_of(facts: Facts, rules: RuleSet) -> set[str]:
    """The ids of the doses that an alarm after a pressor is about, or is once a reading is in that is on its way."""
    events, window = sorted(_events(facts.doses, rules)), timedelta(minutes=rules.watch.after_pressor_min)
    wrong = {each.taken_at for sign in _signs(facts.patient, rules) for each in _run(sign, facts.readings)[0]}
    before = [each for moment in wrong if (each := _pressor_before(moment, events, window))]
    return {event[2] for event in (*before, *(each for each in events if each[0] >= events[-1][0] - window))}


@lru_cache(maxsize=1024)
def _signs(patient: Patient, rules: RuleSet) -> tuple[_Sign, ...]:
    """A child's heart is fast above the band of its age, and slow below the adult's limit at any time and at once.

    A systolic counts from where it is too high for this patient at all, if that is lower. Rhythm counts at every age.
    """
    age, rule = child_age(patient), rules.watch
    fast = rule.after_pressor_rate_above if age is None else heart_rate_band(age)[1]
    slow, high, own = rule.after_pressor_rate_below, rule.after_pressor_sbp_above, lowest_systolic(patient, rules)
    systolic = _Sign("systolic", _("Systolic above {high}", high=plain(exact(high))), "sbp", _over(high))
    if own is not None and own <= high:
        systolic = _Sign("systolic", _("Systolic {own} or more", own=plain(exact(own))), "sbp", _from(own))
    return (
        _Sign("rhythm", _("Ventricular tachycardia"), "rhythm", lambda text: is_ventricular_tachycardia(str(text))),
        _Sign("fast", _("Heart rate above {fast}", fast=plain(exact(fast))), "hr", _over(fast), newly=True, limit=fast),
        _Sign("slow", _("Heart rate below {slow}", slow=plain(exact(slow))), "hr", _under(slow), newly=True, limit=slow)
        if age is None
        else _Sign("slow", _("Heart rate below {slow}", slow=plain(exact(slow))), "hr", _under(slow)),
        systolic,
    )


def _from(limit: float) -> Callable[[object], bool]:
    return lambda value: isinstance(value, (int, float)) and value >= limit


def _over(limit: float) -> Callable[[object], bool]:
    return lambda value: isinstance(value, (int, float)) and value > limit


def _under(limit: float) -> Callable[[object], bool]:
    return lambda value: isinstance(value, (int, float)) and value < limit


def _seen(sign: _Sign, facts: Facts, events: Sequence[Event], window: timedelta, rule: WatchRule) -> Seen | None:
    """Whether the newest value of the measurement is wrong and within the window; since the first such of its run."""
    run, before = _run(sign, facts.readings)
    if not run or _pressor_before(run[0].taken_at, events, window) is None:
        return None
    within = [each.taken_at for each in run if _pressor_before(each.taken_at, events, window)]
    if sign.newly and within[-1] != run[-1].taken_at:
        return None
    if not _is_news(sign, run, before, rule):
        return None
    since = within[-1]
    last = _pressor_before(since, events, window)
    return Seen(sign.cause, _("{sign} after {title}", sign=sign.words, title=last[1]), since) if last else None


def _is_news(sign: _Sign, run: Sequence[Reading], before: Reading | None, rule: WatchRule) -> bool:
    """Whether a rate has gone well beyond its limit, or changed by much since the last one that was fine."""
    if sign.limit is None:
        return True
    was = None if before is None else before.hr
    rates = [each.hr for each in run if each.hr is not None]
    return any(
        abs(rate - sign.limit) >= rule.after_pressor_rate_by
        or (was is not None and abs(rate - was) >= rule.after_pressor_rate_change)
        for rate in rates
    )


def _run(sign: _Sign, readings: Sequence[Reading]) -> tuple[list[Reading], Reading | None]:
    """The sets with wrong values that end with the newest one, newest first, and the one before; empty: it is fine."""
    run: list[Reading] = []
    for reading in reversed(readings):
        value = getattr(reading, sign.measurement)
        if value is None:
            continue
        if not sign.wrong(value):
            return run, reading
        run.append(reading)
    return run, None


def _pressor_before(moment: datetime, events: Sequence[Event], window: timedelta) -> Event | None:
    """The newest pressor before a moment, if it was given within the window."""
    before = [event for event in events if event[0] < moment]
    return before[-1] if before and moment - before[-1][0] <= window else None
