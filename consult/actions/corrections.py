"""Corrections: an entry is marked entered in error; it stays visible and leaves every computation."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from consult.access import Actor
from consult.actions.carry_out import Arrival
from consult.actions.entry import Data, Kind, Written, write
from consult.case.decide import corrections
from consult.case.entries import CorrectionEntry
from consult.models import Correction
from consult.resources import entries

CORRECTION = Kind("correction", Correction, entries.correction)


def correct(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Mark one entry of the case as entered in error."""
    return write(actor, case, CORRECTION, data, now, CorrectionEntry, corrections.correct, arrival=arrival)
