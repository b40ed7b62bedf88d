"""That somebody looked at a case: who and when, outside the journal; and that what was asked or moved is seen."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from uuid import UUID

import msgspec
from django.db import transaction

from consult import access, events, queries
from consult.access import Actor
from consult.actions.carry_out import Write, carry_out, load
from consult.actions.entry import asked_of
from consult.case.decide.asked import Decided
from consult.case.fold.ordered import REQUESTED
from consult.clock import stamp, when
from consult.models import AccessRecord, Case, LastLook
from consult.state.case import CaseState

Held = tuple[UUID, bool, dict[str, int]]  # whose page, whether it is the board, how far it holds each case by its id
AWAY = timedelta(minutes=1)  # whoever was here within it has missed nothing
AGAIN_AFTER = timedelta(minutes=1)  # a page that reads itself anew is one look
ATTENDS_FOR = timedelta(seconds=5)  # less would be a write with each look


def note_look(actor: Actor, case: Case, what: str, now: datetime, *, attends: bool = True) -> None:
    """Put a person's look at a case on record; a physician's holds back its escalations and marks requests as seen.

    One of the crew marks as seen that the patient was moved to it. None of this where ``attends`` is false: the page
    shows no requests.
    """
    if actor.user_id is None:
        return
    if attends and case.state == Case.State.OPEN and (actor.is_physician or (actor.is_crew and case.former_units)):
        _attend(actor, case, now)
    recent = AccessRecord.objects.filter(case=case, by_id=actor.membership, what=what, at__gt=now - AGAIN_AFTER)
    if not recent.exists():
        AccessRecord(case=case, by_id=actor.membership, what=what, at=now).save(force_insert=True)


def _attend(actor: Actor, case: Case, now: datetime) -> None:
    """Every look counts, also one too soon to be another record: what came in between is seen with it."""
    if actor.is_physician and (case.attended_at is None or case.attended_at < now - ATTENDS_FOR):
        Case.objects.filter(pk=case.pk).update(attended_at=now)
    if _news(actor, msgspec.json.decode(case.folded, type=CaseState)):
        _mark_seen(actor, case.uid, now)


def _news(actor: Actor, state: CaseState) -> list[events.Event]:
    """What a look brings about: a physician has seen requests and questions, the new crew that it has the patient."""
    if actor.is_crew:
        return [events.MoveSeen()] if state.moved_not_seen_since else []
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
        if seen := _news(actor, state):
            asked = asked_of(actor, {}, None, now, Look)
            carry_out(Write(case, state, now, asked), Decided(seen), Case)


def note_heads(held: list[Held], now: datetime) -> None:
    """Keep how far people have seen each case, by the pages that they have open; a case's page tells of that case."""
    known = {row.pk: row for row in LastLook.objects.filter(pk__in={membership for membership, _, _ in held})}
    for membership, of_board, heads in sorted(held, key=lambda each: not each[1]):
        row = known.setdefault(membership, LastLook(membership_id=membership, at=now))
        row.heads = {**heads} if of_board else {**row.heads, **heads}
        row.at = now if of_board else row.at
        if not of_board:
            row.cases_at = {**_lately(row, now), **dict.fromkeys(heads, stamp(now))}
    fields = ["at", "heads", "cases_at"]
    LastLook.objects.bulk_create(
        known.values(), update_conflicts=True, unique_fields=["membership"], update_fields=fields
    )


def _lately(row: LastLook, now: datetime) -> dict[str, str]:
    """The cases whose page was open within the time in which nothing is missed."""
    return {uid: at for uid, at in row.cases_at.items() if now - when(at) <= AWAY}


def note_page(row: LastLook, case: UUID, now: datetime) -> None:
    """Somebody has opened a case's page, and works there until the process tells more of it."""
    row.cases_at = {**_lately(row, now), str(case): stamp(now)}
    row.save(update_fields=["cases_at"])


def returned(actor: Actor, now: datetime, shown: Iterable[queries.CardRow] | None = None) -> LastLook | None:
    """Where a person left off, on coming to the board or a case: what happened while they were away waits to be read.

    ``shown`` are the open cases, where they are known. None for a program, and for who comes for the first time.
    """
    if actor.user_id is None:
        return None
    row = LastLook.objects.filter(pk=actor.membership).first()
    if row and now - row.at <= AWAY:
        return row
    known = queries.open_heads(actor.agency) if shown is None else shown
    heads = {str(each.uid): each.seq for each in known}
    if row is None:
        first = LastLook(membership_id=actor.membership, at=now, heads=heads)
        LastLook.objects.bulk_create([first], ignore_conflicts=True)
    else:
        if row.away_since is None or row.heads != row.away_to:  # else nothing was seen since they were told: it goes on
            here = {uid: heads[uid] for uid in _lately(row, now) if uid in heads}  # whoever works in a case is there
            row.away_since, row.away_from = row.at, {**row.heads, **here}
        row.away_to, row.heads, row.at = heads, heads, now
        row.save()
    return row


def dismiss(actor: Actor, now: datetime, case: str = "") -> None:
    """What happened while this person was away is read, of one case or of all: the last look is now."""
    row = LastLook.objects.filter(pk=actor.membership).first()
    if row is None:
        return
    heads = {str(each.uid): each.seq for each in queries.open_heads(actor.agency)}
    row.heads = {**row.heads, **{uid: seq for uid, seq in heads.items() if case in ("", uid)}}
    row.at = row.at if case else now
    if case:
        row.away_to.pop(case, None)
        row.away_from.pop(case, None)
    if not case or not row.away_to:
        row.away_since, row.away_from, row.away_to = None, {}, {}
    row.save()
