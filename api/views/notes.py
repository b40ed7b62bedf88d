"""Notes, procedures, corrections and reviews of a case."""

from __future__ import annotations

from api.serializers.notes import CorrectionEntry, NoteEntry, ProcedureEntry, ReviewEntry
from api.views.base import CreateView
from consult import access
from consult.actions import corrections, notes
from consult.resources import entries


class CaseEntryView(CreateView):
    """An entry about a case that is answered as it was sent."""

    subject = staticmethod(access.case_for)


class Notes(CaseEntryView):
    """Add a few words."""

    entry, answer, act = NoteEntry, entries.NoteAnswer, staticmethod(notes.add_note)


class Procedures(CaseEntryView):
    """Record something done that is not a drug."""

    entry, answer, act = ProcedureEntry, entries.ProcedureAnswer, staticmethod(notes.add_procedure)


class Corrections(CaseEntryView):
    """Mark an entry as entered in error; it stays visible and leaves every computation."""

    entry, answer, act = CorrectionEntry, entries.CorrectionAnswer, staticmethod(corrections.correct)


class Reviews(CaseEntryView):
    """Add a supervisor's finding."""

    entry, answer, act = ReviewEntry, entries.ReviewAnswer, staticmethod(notes.add_review)
    gate = staticmethod(access.require_supervisor)
