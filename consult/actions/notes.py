"""Notes, procedures, phases and reviews."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from consult import access
from consult.access import Actor
from consult.actions.carry_out import Arrival
from consult.actions.entry import Data, Kind, Written, write
from consult.case.decide import words
from consult.case.entries import PhaseEntry, ProcedureEntry, TextEntry
from consult.models import Note, PhaseChange, Procedure, Review
from consult.resources import entries

NOTE = Kind("note", Note, entries.note, happened="at", told_late=True)
PROCEDURE = Kind("procedure", Procedure, entries.procedure, happened="at", told_late=True)
PHASE = Kind("phase", PhaseChange, entries.phase, happened="at", told_late=True)
REVIEW = Kind("review", Review, entries.review, gate=access.require_supervisor)


def add_note(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Add a few words to the case."""
    return write(actor, case, NOTE, data, now, TextEntry, words.add_note, arrival=arrival)


def change_phase(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Record that the case is in another phase: cardiac arrest, a pulse again, resuscitation ended."""
    return write(actor, case, PHASE, data, now, PhaseEntry, words.change_phase, arrival=arrival)


def add_procedure(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Record something done that is not a drug; a way into the circulation stands on the card."""
    return write(actor, case, PROCEDURE, data, now, ProcedureEntry, words.add_procedure, arrival=arrival)


def add_review(actor: Actor, case: UUID, data: Data, now: datetime) -> Written:
    """Write down what a supervisor found after a consult."""
    return write(actor, case, REVIEW, data, now, TextEntry, words.add_review)
