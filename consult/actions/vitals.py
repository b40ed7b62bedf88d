"""Vitals: kept as sent, judged, put where they belong in time."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from consult.access import Actor
from consult.actions.carry_out import Arrival
from consult.actions.entry import Data, Kind, Written, write
from consult.case.decide import vitals
from consult.models import Vitals
from consult.resources import entries

VITALS = Kind("vitals", Vitals, entries.vitals, happened="taken_at", look_first=False, told_late=True)


def record_vitals(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Record a set of vitals; the answer carries what was derived from this set alone."""
    return write(actor, case, VITALS, data, now, vitals.VitalsEntry, vitals.record_vitals, arrival=arrival)
