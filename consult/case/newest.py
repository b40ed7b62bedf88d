"""The newest value of each measurement, and what follows from them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from msgspec import UNSET, Struct, UnsetType

from consult.state.case import CaseState
from consult.state.parts import Derived
from dosing.ground.facts import Facts, Goal, Measured, Reading, Values
from dosing.ground.kinds import Time
from dosing.patient import pressure
from dosing.patient.freshness import as_now, fresh_min
from dosing.patient.signs import signs_of_case
from dosing.rules.rule_set import RuleSet
from dosing.watch.causes import LowAgain, low_again
from dosing.watch.high_pressure import alarming_pressure
from dosing.watch.vital_signs import alarming


class Value(Struct, frozen=True):
    """The newest value of a measurement."""

    value: Measured
    taken_at: Time


class DerivedNow(Derived, frozen=True, kw_only=True):
    """What follows from the newest pressure, the signs of the whole case, and how long the pressure counts as new.

    ``fresh_min`` is 0 if the pulse was lost or came back since; nothing from before that is in ``above`` or
    ``alarming``. ``low_again``: the pressure is low again, so soon that it raises no alert yet; null if it is not.
    """

    signs_old: tuple[str, ...]
    signs_taken: dict[str, tuple[str, Time]]
    above: str | None
    alarming: dict[str, str]
    taken_at: Time | None
    fresh_min: float
    low_again: LowAgain | None


if TYPE_CHECKING:
    Measurements = Struct
else:  # a field for each thing that is measured, so that none can be forgotten
    Measurements = msgspec.defstruct(
        "Measurements",
        [(name, Value | UnsetType, UNSET) for name in Values.__struct_fields__ if name != "source"],
        frozen=True,
        kw_only=True,
    )


class Newest(Measurements, frozen=True, kw_only=True):
    """By measurement its newest value, absent before the first; systolic, diastolic and method are of one set."""

    derived: DerivedNow


def newest(state: CaseState, facts: Facts, goal: Goal, rules: RuleSet) -> Newest:
    """What a card shows of the vitals."""
    known = ((name, latest) for name, latest in state.latest.items() if latest.value is not None)
    values = {name: Value(latest.value, latest.taken_at) for name, latest in known}
    return Newest(**values, derived=_derived(state, facts, goal, rules))


def _is_alarmed(state: CaseState) -> bool:
    return any(alert.kind == "low_pressure" for alert in state.alerts)


def _derived(state: CaseState, facts: Facts, goal: Goal, rules: RuleSet) -> DerivedNow:
    last: Reading = state.pressure or Reading(taken_at=facts.opened_at)
    judged = pressure.judge(last, facts.patient, goal, rules)
    found, now = signs_of_case(facts), as_now(facts)
    fresh = fresh_min(last.taken_at, judged.pressure.state if judged.pressure else "unknown", facts, rules)
    current = state.pressure if fresh else None
    known = {
        **judged.as_dict(),
        "signs": found.present,
        "signs_old": found.old,
        "signs_taken": dict(found.taken_at),
        "above": pressure.above(last, judged, goal) if current else None,
        "alarming": {**alarming(now, rules), **alarming_pressure(current, goal, facts.patient, rules)},
        "taken_at": state.pressure and last.taken_at,
        "fresh_min": fresh,
        "low_again": None if _is_alarmed(state) else low_again(facts, rules),
    }
    return msgspec.convert(known, DerivedNow)
