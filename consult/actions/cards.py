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
    made, kept = (
        queries.with_contact(each, case.last_contact_at) for each in (msgspec.json.encode(card).decode(), case.card)
    )
    return (msgspec.json.encode(state).decode(), made) != (case.folded, kept)


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
