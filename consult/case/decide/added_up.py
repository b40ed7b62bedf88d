"""How many doses of a long case are kept one by one, so that an entry costs the same however many came before it.

The newest are, of each treatment the newest few, what runs or waits for its reading, the pressor by which that is late,
and those that an alarm is about or may still be. The others are added up, once, when they leave; what is told of their
time has all of them again (`Known.whole`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import datetime
from typing import TypeVar

from msgspec.structs import replace

from consult import events
from consult.case.decide.asked import Asked, Known
from consult.case.fold.apply import FOLDS
from consult.case.fold.entry import Entry
from consult.state.case import CaseState, facts_of
from consult.state.parts import Given
from dosing.ground.given_before import DrawnBefore, GivenBefore
from dosing.held import earlier_draws
from dosing.patient import reassess
from dosing.patient.reassess import others_only
from dosing.rules.rule_set import RuleSet
from dosing.watch import pressor

MOST_KEPT = 60  # as many as a card shows
Event = TypeVar(
    "Event",
    events.InterventionRecorded,
    events.InterventionChanged,
    events.ContainerRecorded,
    events.ContainerDiscarded,
    events.EntryCorrected,
)
Sum = TypeVar("Sum", GivenBefore, DrawnBefore)


def adding_up(known: Known, asked: Asked[object], event: Event) -> Event:
    """The event with what is only added up after it; as it is where nothing of that changes."""
    before, entry, fold = known.kept or known.state, Entry(event, asked.at, asked.now, asked.by), FOLDS[type(event)]
    after = fold.after(before, entry)
    every = fold.after(known.state, entry) if known.kept else after
    stay = _stay(every, known.rules)
    leave: list[Given] = [dose for dose in every.doses if dose.id not in stay]
    if not leave and not known.kept:
        return event
    right = [dose for dose in leave if not dose.in_error]
    containers = [each for each in every.containers if not each.in_error]
    now, was = earlier_draws.with_doses(every.earlier, right, containers, known.rules), before.earlier
    kept = {dose.id for dose in after.doses}
    added_up = events.AddedUp(
        until=_latest(leave, every.earlier.until),
        doses=tuple(sorted(kept - stay)),
        back=tuple(dose for dose in every.doses if dose.id in stay - kept),
        given=_changed(was.given, now.given),
        drawn=_changed(was.drawn, now.drawn),
    )
    return replace(event, added_up=added_up)


def _latest(doses: Iterable[Given], until: datetime | None) -> datetime | None:
    times = [dose.given_at for dose in doses]
    return max([*times, until] if until else times, default=None)


def _stay(state: CaseState, rules: RuleSet) -> set[str]:
    """The doses that are kept one by one."""
    stay, few = {dose.id for dose in state.doses[-MOST_KEPT:]}, int(rules.ledger.pushes_for_rate)
    asked_for, newer = {each.intervention for each in state.reassessments}, Counter[tuple[str, bool]]()
    for dose in reversed(state.doses):
        if dose.in_error:
            continue
        alike = dose.treatment, others_only(dose)
        newer[alike] += 1
        newest = dose.treatment in rules.treatments and newer[alike] <= few
        if newest or dose.goes_on or dose.id in asked_for:
            stay.add(dose.id)
    right = reassess.pressors([dose for dose in state.doses if not dose.in_error], rules)
    late_by = (reassess.next_pressor(dose, right) for dose in right if dose.id in asked_for)
    return stay | {dose.id for dose in late_by if dose} | pressor.told_of(facts_of(state), rules)


def _changed(was: dict[str, Sum], now: dict[str, Sum]) -> dict[str, Sum | None]:
    """What is another sum now, None where there is none any more."""
    return {line: now.get(line) for line in sorted(was.keys() | now.keys()) if was.get(line) != now.get(line)}
