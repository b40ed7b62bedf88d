"""Vitals: kept as sent, judged, put where they belong in time."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

import msgspec

from consult import digest, events
from consult.access import Actor
from consult.actions import judged_anew
from consult.actions.entry import Data, Draft, Written, write
from consult.card.facts import add_reading, clinical, empty, kept_reading
from consult.models import Vitals
from consult.resources import vitals_dict
from dosing import pressure, unlikely
from dosing.facts import Reading


def record_vitals(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Record a set of vitals; the answer carries what was derived from this set alone."""
    return write(
        actor,
        case_uid,
        "vitals",
        data,
        now,
        act=_record,
        model=Vitals,
        show=vitals_dict,
        look_first=False,
    )


def _record(draft: Draft, _: Data) -> Vitals:
    sent = {name: value for name, value in digest.plain(draft.as_sent).items() if value is not None}
    values = {name: value for name, value in sent.items() if name not in ("id", "taken_at")}
    taken_at = draft.happened_at("taken_at")
    reading = msgspec.convert({**values, "id": str(draft.uid), "taken_at": taken_at}, Reading)
    derived, doubts = judged(draft, reading)
    row = Vitals(**draft.entry_fields(), taken_at=taken_at, data=sent, derived=derived, unlikely=doubts)
    with judged_anew.after(draft, taken_at):
        row.save(force_insert=True)
        add_reading(draft.kept, kept_reading(row))
    draft.event = events.VitalsRecorded(id=row.uid, values=values, derived=derived, unlikely=doubts)
    return row


def judged(draft: Draft, reading: Reading) -> tuple[dict[str, Any], list[str]]:
    """What a set says about the pressure, against the goal in force, and which of its values ask for a second look."""
    facts = clinical(draft.case, empty())  # a goal asks who the patient is, not how the pressure was
    goal = pressure.goal_for(facts, draft.rules)
    derived = pressure.judge(reading, facts.patient, goal, draft.rules).as_dict()
    return derived, unlikely.unlikely(reading, facts.patient)
