"""Reviews: what a supervisor found after the consult."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from consult import access, events
from consult.access import Actor
from consult.actions.entry import Data, Draft, Written, write
from consult.models import Review
from consult.resources import review_dict


def add_review(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Write down a finding about a consult."""
    return write(
        actor, case_uid, "review", data, now, act=_add, model=Review, show=review_dict, gate=access.require_supervisor
    )


def _add(draft: Draft, data: Data) -> Review:
    row = Review(**draft.entry_fields(), text=data["text"], outcome=data["outcome"])
    row.save(force_insert=True)
    draft.event = events.ReviewAdded(id=row.uid, text=row.text, outcome=row.outcome)
    return row
