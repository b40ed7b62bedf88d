"""The kept facts of a case, folded entry by entry, so that a post costs the same however long the case is.

Plain JSON values: `readings` the newest 60 sets, 20 pressures and 6 of each other sign that alarms, oldest first,
`latest` each measurement's newest value, `pressure` the newest set that holds one, `doses` all that was given, and what
is open: `reassessments`, `orders`, `alerts`, `access`; `containers` all that was mixed or hung, `oxygen` the flows
read, thinned out.
"""

from __future__ import annotations

import bisect
from datetime import datetime, timedelta
from typing import Any

import msgspec

from consult.clock import stamp, when
from consult.models import Case, Container, Procedure, Vitals
from dosing import pressure
from dosing.facts import Facts, Reading
from dosing.watch_vitals import HELD

KEPT_READINGS = 60
KEPT_PRESSURES = 20
KEPT_SELDOM = 6  # of each measurement that alarms
FLOW_EVERY = timedelta(minutes=5)  # so far a flow that is told late can be wrong, at the most
PRESSURE = ("sbp", "dbp", "map_reported", "bp_method", "pulses")
NOT_MEASURED = ("id", "seq", "taken_at", "source", "map")

Kept = dict[str, Any]


def empty() -> Kept:
    """The facts of a case in which nothing has happened yet."""
    return {
        "readings": [],
        "latest": {},
        "pressure": None,
        "doses": [],
        "reassessments": [],
        "orders": [],
        "alerts": [],
        "access": [],
        "containers": [],
        "oxygen": [],
        "unit": None,
        "physician": None,
        "rule_set": None,
        "sums": {},
    }


def load(case: Case) -> Kept:
    """The facts kept on the case row."""
    return msgspec.json.decode(case.facts)  # type: ignore[no-any-return]


def store(case: Case, kept: Kept) -> None:
    """Put the facts on the case row; the caller saves it."""
    case.facts = msgspec.json.encode(kept).decode()


def _order_of(reading: dict[str, Any]) -> tuple[datetime, int]:
    return when(reading["taken_at"]), reading["seq"]


def _holds_pressure(reading: dict[str, Any]) -> bool:
    return pressure.holds_pressure(msgspec.convert(reading, Reading))


def add_reading(kept: Kept, reading: dict[str, Any]) -> None:
    """Fold in a set of vitals where it belongs by the time it was taken; late sets change no newer value."""
    bisect.insort(kept["readings"], reading, key=_order_of)
    kept["readings"] = _newest(kept["readings"])
    newest = kept["pressure"]
    if _holds_pressure(reading) and (newest is None or _order_of(newest) <= _order_of(reading)):
        kept["pressure"] = reading
    _fold_latest(kept["latest"], reading)
    if reading.get("oxygen_l_min") is not None:
        _fold_flow(kept["oxygen"], {"at": reading["taken_at"], "l_min": reading["oxygen_l_min"]})


def _fold_flow(flows: list[dict[str, Any]], flow: dict[str, Any]) -> None:
    """Put a flow where it belongs in time; within a run of equal ones one in so many minutes stays."""
    bisect.insort(flows, flow, key=lambda each: when(each["at"]))
    place = flows.index(flow)
    for inner in range(min(place + 1, len(flows) - 2), max(place - 2, 0), -1):
        before, this, after = flows[inner - 1 : inner + 2]
        alike = before["l_min"] == this["l_min"] == after["l_min"]
        if alike and when(after["at"]) - when(before["at"]) <= FLOW_EVERY:
            del flows[inner]


def _newest(readings: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The newest sets, and beyond them the newest pressures and others: many heart rates must not push them out."""
    if len(readings) <= KEPT_READINGS:
        return readings
    kept = {reading["seq"] for reading in [each for each in readings if _holds_pressure(each)][-KEPT_PRESSURES:]}
    for names in HELD.values():
        held = [reading["seq"] for reading in readings if any(reading.get(name) is not None for name in names)]
        kept.update(held[-KEPT_SELDOM:])
    older = [reading for reading in readings[:-KEPT_READINGS] if reading["seq"] in kept]
    return older + readings[-KEPT_READINGS:]


def _fold_latest(latest: dict[str, Any], reading: dict[str, Any]) -> None:
    measured = {name: value for name, value in reading.items() if name not in NOT_MEASURED}
    if _holds_pressure(reading):  # systolic, diastolic and method are one measurement: never of two sets
        measured = {**dict.fromkeys(PRESSURE), **measured}
    else:
        measured.pop("bp_method", None)  # how a pressure was taken says nothing without one
    for name, value in measured.items():
        known = latest.get(name)
        if known is None or (when(known["taken_at"]), known["seq"]) <= _order_of(reading):
            latest[name] = {"value": value, "taken_at": reading["taken_at"], "seq": reading["seq"]}


def replace(items: list[dict[str, Any]], item: dict[str, Any]) -> None:
    """Put an item in the place of the one with its id, or at the end."""
    for place, other in enumerate(items):
        if other["id"] == item["id"]:
            items[place] = item
            return
    items.append(item)


def remove(items: list[dict[str, Any]], item_id: str) -> None:
    """Take out the item with this id, if it is there."""
    items[:] = [item for item in items if item["id"] != item_id]


def by_due(reassessment: dict[str, Any]) -> tuple[datetime, str]:
    """The order of the reassessments: soonest first, and of two at once always the same first."""
    return when(reassessment["due_at"]), reassessment["id"]


def add_dose(kept: Kept, dose: dict[str, Any]) -> None:
    """Fold in a treatment by the time it was given; one already known is replaced."""
    replace(kept["doses"], dose)
    kept["doses"].sort(key=lambda each: (when(each["given_at"]), each["seq"]))


def add_container(kept: Kept, container: dict[str, Any]) -> None:
    """Fold in a syringe, bag or cylinder by when it was mixed or hung; one already known is replaced."""
    replace(kept["containers"], container)
    kept["containers"].sort(key=lambda each: (when(each["at"]), each["seq"]))


def clinical(case: Case, kept: Kept) -> Facts:
    """The case as the rules look at it, without what was entered in error."""
    known = {
        "patient": case.patient,
        "opened_at": case.opened_at,
        "impression": case.impression,
        "state": case.state,
        "goal": case.goal,
        "readings": kept["readings"],
        "latest": {name: value for name, value in kept["latest"].items() if value["value"] is not None},
        "doses": [dose for dose in kept["doses"] if not dose["in_error"]],
        "reassessments": kept["reassessments"],
        "orders": kept["orders"],
        "containers": [each for each in kept["containers"] if not each["in_error"]],
        "oxygen": kept["oxygen"],
        "access": kept["access"],
        "eta": stamp(case.eta) if case.eta else None,
        "ended_at": stamp(case.ended_at) if case.ended_at else None,
        "last_contact_at": case.last_contact_at,
    }
    return msgspec.convert(known, Facts)


def access_dict(row: Procedure) -> dict[str, Any]:
    """A way into the circulation as the card shows it."""
    named = {name: row.data.get(name) for name in ("procedure", "site", "gauge", "outcome")}
    return {"id": str(row.uid), "at": stamp(row.at), **named}


def kept_reading(row: Vitals) -> dict[str, Any]:
    """A set of vitals as the kept facts hold it: its values, with the MAP that decided."""
    values = {name: value for name, value in row.data.items() if name not in ("id", "taken_at")}
    return {**values, "id": str(row.uid), "taken_at": stamp(row.taken_at), "seq": row.seq, "map": row.derived["map"]}


def kept_container(row: Container) -> dict[str, Any]:
    """A syringe, bag or cylinder as the kept facts hold it."""
    named = ("name", "strength", "volume", "cylinder", "mixed_by", "checked_by")
    return {
        "id": str(row.uid),
        "seq": row.seq,
        "form": str(row.form),
        "treatment": row.treatment or None,
        "at": stamp(row.at),
        "discarded_at": stamp(row.discarded_at) if row.discarded_at else None,
        "hung": row.hung_with_id is not None,
        "in_error": row.in_error,
        **{name: row.data.get(name) for name in named},
    }
