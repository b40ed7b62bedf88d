"""Notes, procedures, corrections and reviews of a case."""

from __future__ import annotations

from api.serializers.notes import CorrectionEntry, NoteEntry, PhaseEntry, ProcedureEntry, ReviewEntry
from api.views.base import CreateView, told_of
from consult import access
from consult.actions import corrections, notes
from consult.resources import entries


class CaseEntryView(CreateView):
    """An entry about a case that is answered as it was sent."""

    subject = told_of(access.case_for)


class Notes(CaseEntryView):
    """Add a note."""

    entry, answer, kind, act = NoteEntry, entries.NoteAnswer, notes.NOTE, staticmethod(notes.add_note)


class Procedures(CaseEntryView):
    """Record a procedure: something done that is not a drug."""

    entry, answer = ProcedureEntry, entries.ProcedureAnswer
    kind, act = notes.PROCEDURE, staticmethod(notes.add_procedure)


class Phases(CaseEntryView):
    """Record a change of phase, such as a cardiac arrest."""

    entry, answer, kind, act = PhaseEntry, entries.PhaseAnswer, notes.PHASE, staticmethod(notes.change_phase)


class Corrections(CaseEntryView):
    """Mark an entry as entered in error; it stays visible and leaves every computation."""

    entry, answer = CorrectionEntry, entries.CorrectionAnswer
    kind, act = corrections.CORRECTION, staticmethod(corrections.correct)


class Reviews(CaseEntryView):
    """Add a supervisor's review."""

    entry, answer, kind, act = ReviewEntry, entries.ReviewAnswer, notes.REVIEW, staticmethod(notes.add_review)
