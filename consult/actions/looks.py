"""That somebody looked at a case: who and when, outside the journal; and that a physician has seen what was asked."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

import msgspec
from django.db import transaction

from consult import access, events
from consult.access import Actor
from consult.actions.carry_out import Write, carry_out, load
from consult.actions.entry import asked_of
from consult.case.decide.asked import Decided
from consult.case.fold.ordered import REQUESTED
from consult.models import AccessRecord, Case
from consult.state.case import CaseState

AGAIN_AFTER = timedelta(minutes=1)  # a page that reads itself anew is one look
ATTENDS_FOR = timedelta(seconds=5)  # less would be a write with each look


def note_look(actor: Actor, case: Case, what: str, now: datetime, *, attends: bool = True) -> None:
    """Put a person's look at a case on record; a physician's holds back its escalations and marks requests as seen.

    It does neither where ``attends`` is false: the page shows no requests.
    """
    if actor.user_id is None:
        return
    if attends and actor.is_physician and case.state == Case.State.OPEN:
        _attend(actor, case, now)
    recent = AccessRecord.objects.filter(case=case, by_id=actor.membership, what=what, at__gt=now - AGAIN_AFTER)
    if not recent.exists():
        AccessRecord(case=case, by_id=actor.membership, what=what, at=now).save(force_insert=True)


def _attend(actor: Actor, case: Case, now: datetime) -> None:
    """Every look counts, also one too soon to be another record: what came in between is seen with it."""
    if case.attended_at is None or case.attended_at < now - ATTENDS_FOR:
        Case.objects.filter(pk=case.pk).update(attended_at=now)
    if _news(msgspec.json.decode(case.folded, type=CaseState)):
        _mark_seen(actor, case.uid, now)


def _news(state: CaseState) -> list[events.Event]:
    """What happens when a physician looks: requests and questions that nobody has seen yet are seen."""
    orders = tuple(each.id for each in state.orders if each.state == REQUESTED and not each.seen_at)
    questions = tuple(each.id for each in state.questions if not each.seen_at)
    seen: list[events.Event] = [events.OrdersSeen(orders=orders)] if orders else []
    return [*seen, events.QuestionsSeen(questions=questions)] if questions else seen


class Look(msgspec.Struct, frozen=True):
    """A look has no content."""


def _mark_seen(actor: Actor, case_uid: UUID, now: datetime) -> None:
    with transaction.atomic():
        case = access.case_for(actor, case_uid, lock=True)
        state = load(case).state
        if seen := _news(state):
            asked = asked_of(actor, {}, None, now, Look)
            carry_out(Write(case, state, now, asked), Decided(seen), Case)
