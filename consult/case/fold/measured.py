"""Vitals: each set goes where it belongs by the time it was taken, so that a late one changes no newer value."""

from __future__ import annotations

import bisect
from collections.abc import Iterable
from datetime import datetime, timedelta
from itertools import islice

from msgspec.structs import asdict, replace

from consult import events
from consult.case.fold.entry import Entry
from consult.state.case import CaseState
from consult.state.parts import InHand, KeptLatest, KeptReading
from dosing.ground.facts import Measured, OxygenFlow, Values
from dosing.ground.measurements import IN_OTHER_UNITS
from dosing.patient.pressure import holds_pressure
from dosing.watch.vital_signs import CAUSES

KEPT_READINGS = 60
KEPT_PRESSURES = 20
KEPT_SELDOM = 6  # of each measurement that alarms
KEPT_FLOWS = 60
FLOW_EVERY = timedelta(minutes=5)  # so far a flow that is told late can be wrong, at the most
MEASURED = tuple(name for name in Values.__struct_fields__ if name != "source" and name not in IN_OTHER_UNITS)
PRESSURE = ("sbp", "dbp", "map_reported", "bp_method", "pulses")


def reading_of(event: events.VitalsRecorded, seq: int) -> KeptReading:
    """The set as it is kept: what was measured, with the MAP that decided."""
    return KeptReading(**asdict(event.values), id=event.id, taken_at=event.taken_at, seq=seq, map=event.derived.map)


def recorded(state: CaseState, event: events.VitalsRecorded, entry: Entry) -> CaseState:
    """Fold in a set of vitals."""
    return with_reading(state, reading_of(event, state.seq + 1))


def with_reading(state: CaseState, reading: KeptReading) -> CaseState:
    """The state with one more set of vitals."""
    oxygen = state.oxygen
    if reading.oxygen_l_min is not None:
        oxygen = _needed(with_flow(oxygen, OxygenFlow(reading.taken_at, reading.oxygen_l_min)), state.containers)
    return replace(
        state,
        readings=with_newest(state.readings, reading),
        latest=with_latest(state.latest, reading),
        oxygen=oxygen,
    )


def with_newest(readings: tuple[KeptReading, ...], reading: KeptReading) -> tuple[KeptReading, ...]:
    """The newest sets, and beyond them the newest pressures and others: many heart rates must not push them out."""
    found = [*readings]
    bisect.insort(found, reading, key=order_of)
    return tuple(found if len(found) <= KEPT_READINGS else _newest(found))


def order_of(reading: KeptReading) -> tuple[datetime, int]:
    """By when it was taken; of two at once the one told first."""
    return reading.taken_at, reading.seq


def _newest(readings: list[KeptReading]) -> list[KeptReading]:
    first = len(readings) - KEPT_READINGS
    older = [readings[place] for place in range(first) if _stays(readings, place)]
    return older + readings[first:]


def _stays(readings: list[KeptReading], place: int) -> bool:
    """Whether an older set is among the newest few of something that it says."""
    older, newer = readings[place], readings[:place:-1]
    if holds_pressure(older) and _few(map(holds_pressure, newer), KEPT_PRESSURES):
        return True
    held = (names for names in CAUSES.values() if _holds(older, names))
    return any(_few((_holds(each, names) for each in newer), KEPT_SELDOM) for names in held)


def _few(said: Iterable[bool], most: int) -> bool:
    """Whether fewer than so many say it."""
    return sum(islice(filter(None, said), most)) < most


def _holds(reading: KeptReading, names: Iterable[str]) -> bool:
    return any(getattr(reading, name) is not None for name in names)


def with_latest(latest: dict[str, KeptLatest], reading: KeptReading) -> dict[str, KeptLatest]:
    """Each measurement's newest value: systolic, diastolic and method are one measurement, never of two sets."""
    place, found = order_of(reading), dict(latest)
    for name, value in _measured(reading).items():
        known = found.get(name)
        if known is None or (known.taken_at, known.seq) <= place:
            found[name] = KeptLatest(value, *place)
    return found


def _measured(reading: KeptReading) -> dict[str, Measured]:
    values = {name: getattr(reading, name) for name in MEASURED}
    measured = {name: value for name, value in values.items() if value is not None}
    if holds_pressure(reading):
        return {**dict.fromkeys(PRESSURE), **measured}
    measured.pop("bp_method", None)  # how a pressure was taken says nothing without one
    return measured


def _needed(flows: tuple[OxygenFlow, ...], containers: tuple[InHand, ...]) -> tuple[OxygenFlow, ...]:
    """The newest flows, and before them those that the cylinders in hand have given."""
    opened = (each.at for each in containers if each.cylinder and not each.discarded_at and not each.in_error)
    since = min(opened, default=None)
    first = len(flows) - KEPT_FLOWS
    while first > 0 and since is not None and flows[first].at > since:
        first -= 1
    return flows[max(first, 0) :]


def with_flow(flows: tuple[OxygenFlow, ...], flow: OxygenFlow) -> tuple[OxygenFlow, ...]:
    """Put a flow where it belongs in time; within a run of equal ones one in so many minutes stays."""
    found = [*flows]
    bisect.insort(found, flow, key=lambda each: each.at)
    place = found.index(flow)
    for inner in range(min(place + 1, len(found) - 2), max(place - 2, 0), -1):
        before, this, after = found[inner - 1 : inner + 2]
        if before.l_min == this.l_min == after.l_min and after.at - before.at <= FLOW_EVERY:
            del found[inner]
    return tuple(found)


def taken_back(state: CaseState, measured: events.Measured) -> CaseState:
    """The state without a set of vitals: what the event found to be left."""
    left = [each for each in state.readings if each.id not in measured.gone]
    changed = {name: latest for name, latest in measured.latest.items() if latest is not None}
    kept = {name: latest for name, latest in state.latest.items() if name not in measured.latest}
    return replace(
        state,
        readings=tuple(sorted([*left, *measured.back], key=order_of)),
        latest={**kept, **changed},
        oxygen=state.oxygen if measured.oxygen is None else measured.oxygen,
    )
