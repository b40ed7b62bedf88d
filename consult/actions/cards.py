"""Cards made anew from the rows, after a change of the code that builds them."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from consult import events
from consult.actions.entry import draft_for, finish
from consult.card import rebuild
from consult.models import Case


def rebuild_card(case_pk: int, now: datetime) -> bool:
    """Store the card as today's builder makes it; whether it was another than the stored one."""
    with transaction.atomic():
        case = Case.objects.select_for_update(of=("self",)).get(pk=case_pk)
        if not rebuild.differs(case):
            return False
        draft = draft_for(case, None, now)
        draft.kept = rebuild.facts(case)
        draft.event = events.CardRebuilt()
        finish(draft)
        return True
