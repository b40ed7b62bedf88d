"""States and cards made anew from the journal, after a change of the code that folds or builds them."""

from __future__ import annotations

from datetime import datetime

import msgspec
from django.db import transaction

from consult import events, queries
from consult.actions.carry_out import Write, carry_out, presence_of
from consult.case.card import card_of
from consult.case.decide.asked import Decided
from consult.case.fold.apply import fold
from consult.journal.read import entries_of
from consult.models import Case
from consult.rows import anew
from consult.state.case import CaseState


def state_anew(case: Case) -> CaseState:
    """The state that a case's journal comes to."""
    return fold(entry for _, entry in entries_of(case))


def differs(case: Case, state: CaseState | None = None) -> bool:
    """Whether what is stored, state or card, is other than what the journal comes to, `state` where it is known.

    That the unit was heard of since stands on the case alone.
    """
    state = state or state_anew(case)
    card = card_of(state, presence_of(case), queries.rules_of(case))
    anew = msgspec.json.encode(state).decode(), _but_for_contact(msgspec.json.encode(card).decode())
    return anew != (case.folded, _but_for_contact(case.card))


def _but_for_contact(card: str) -> tuple[str, str]:
    """A card's text before and after the time at which its unit was last heard of."""
    before, _, after = card.rpartition('"last_contact_at":"')
    return before, after.partition('"')[2]


def faults(case: Case) -> list[str]:
    """What is stored other than the journal says, and where: state or card, rows, columns of the case."""
    try:
        state = state_anew(case)
    except (msgspec.DecodeError, ValueError) as error:
        return [f"the journal cannot be folded: {error}"]
    return [*(["state or card"] if differs(case, state) else []), *anew.faults(case, state)]


def rebuild_card(case_pk: int, now: datetime) -> bool:
    """Store state and card as today's code makes them of the journal; whether they were others."""
    with transaction.atomic():
        case = Case.objects.select_for_update(of=("self",)).get(pk=case_pk)
        state = state_anew(case)
        if not differs(case, state):
            return False
        carry_out(Write(case, state, now, anew=True), Decided([events.CardRebuilt()]), Case)
        return True
