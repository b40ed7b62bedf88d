"""Vitals: kept as sent, judged, put where they belong in time."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

import msgspec

from consult import events
from consult.case.decide.asked import Answered, Asked, Decided, Known
from consult.case.decide.judged_anew import judged_anew
from consult.case.fold.measured import reading_of, with_reading
from consult.state.parts import Derived, KeptReading
from dosing.ground.facts import Facts, Reading, Values
from dosing.patient import pressure, reassess, unlikely


class VitalsEntry(Values, frozen=True, kw_only=True):
    """One set of vitals."""

    taken_at: datetime


def record_vitals(known: Known, asked: Asked[VitalsEntry]) -> Decided:
    """Record a set of vitals, with what is derived from this set alone."""
    known = known.whole(asked.at)
    state, rules = known.state, known.rules
    values = msgspec.convert(asked.content, Values, from_attributes=True)
    reading = msgspec.convert(asked.content, Reading, from_attributes=True)
    # A goal asks who the patient is, not how the pressure was.
    who = Facts(patient=state.patient, opened_at=state.opened_at, impression=state.impression, goal=state.goal)
    derived = pressure.judge(reading, state.patient, pressure.goal_for(who, rules), rules)
    event = events.VitalsRecorded(
        id=asked.id,
        values=values,
        derived=msgspec.convert(derived.as_dict(), Derived),
        unlikely=tuple(unlikely.unlikely(reading, state.patient)),
        taken_at=asked.at,
    )
    decided = Decided([event])
    new = reading_of(event, known.next_seq)
    decided.add(judged_anew(known, lambda: with_reading(state, new), asked.id, asked.at, new=new))
    decided.answered += _answered(known, new)
    return decided


def _answered(known: Known, new: KeptReading) -> Iterator[Answered]:
    """Of the overdue readings that the state only counts those that this set answers."""
    counted = known.state.unanswered
    asked = [each for each in known.state.reassessments if each.because in counted]
    needs = {need for each in asked for need in each.needs}
    if not counted or (needs and not any(reassess.NEEDS[need](new) for need in needs)):
        return
    readings = with_reading(known.state, new).readings
    for each in known.past.unanswered():
        if at := reassess.completed_by(each, readings):
            yield Answered(each, at)
