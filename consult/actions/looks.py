"""That a person looked at a case: on record outside the journal, since a look changes nothing."""

from __future__ import annotations

from datetime import datetime

from consult.access import Actor
from consult.models import AccessRecord, Case


def note_look(actor: Actor, case: Case, what: str, now: datetime) -> None:
    """Record who looked at the case, at what, and when."""
    AccessRecord.objects.create(case=case, by_id=actor.membership, at=now, what=what)
