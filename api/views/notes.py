"""Notes, procedures, corrections and reviews of a case."""

from __future__ import annotations

from api.answers.entries import EntryAnswer
from api.serializers.notes import CorrectionEntry, NoteEntry, ProcedureEntry, ReviewEntry
from api.views.base import CreateView
from consult import access
from consult.actions import corrections, notes


class CaseEntryView(CreateView):
    """An entry about a case that is answered as it was sent."""

    answer = EntryAnswer
    subject = staticmethod(access.case_for)


class Notes(CaseEntryView):
    """Add a few words."""

    entry, act = NoteEntry, staticmethod(notes.add_note)


class Procedures(CaseEntryView):
    """Record something done that is not a drug."""

    entry, act = ProcedureEntry, staticmethod(notes.add_procedure)


class Corrections(CaseEntryView):
    """Mark an entry as entered in error; it stays visible and leaves every computation."""

    entry, act = CorrectionEntry, staticmethod(corrections.correct)


class Reviews(CaseEntryView):
    """Add a supervisor's finding."""

    entry, act, gate = ReviewEntry, staticmethod(notes.add_review), staticmethod(access.require_supervisor)
