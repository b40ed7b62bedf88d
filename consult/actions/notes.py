"""Notes and procedures."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from consult import events
from consult.access import Actor
from consult.actions.cases import sent
from consult.actions.entry import Data, Draft, Written, write
from consult.card.facts import access_dict
from consult.models import Note, Procedure
from consult.resources import note_dict, procedure_dict

ACCESS = ("iv_access", "io_access")


def add_note(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Add a few words to the case."""
    return write(actor, case_uid, "note", data, now, act=_add_note, model=Note, show=note_dict)


def _add_note(draft: Draft, data: Data) -> Note:
    at = draft.happened_at()
    row = Note(**draft.entry_fields(), at=at, at_as_sent=draft.at_as_sent, text=data["text"])
    row.save(force_insert=True)
    draft.event = events.NoteAdded(id=row.uid, text=row.text)
    return row


def add_procedure(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Record something done that is not a drug; a way into the circulation stands on the card."""
    return write(actor, case_uid, "procedure", data, now, act=_add_procedure, model=Procedure, show=procedure_dict)


def _add_procedure(draft: Draft, data: Data) -> Procedure:
    row = Procedure(**draft.entry_fields(), at=draft.happened_at(), data=sent(draft.as_sent))
    row.save(force_insert=True)
    if data["procedure"] in ACCESS:
        draft.kept["access"] = [*draft.kept["access"], access_dict(row)]
    draft.event = events.ProcedureRecorded(id=row.uid, content=row.data)
    return row
