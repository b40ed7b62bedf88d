"""What a batch says of its sender: a device clock that is off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from uuid import UUID

from django.db import transaction

from consult import access, problems
from consult.access import Actor
from consult.actions import settle
from consult.actions.entry import draft_for, finish
from dosing.text import minutes_text
from dosing.watch import Cause


@contextmanager
def arriving(actor: Actor, case_uids: Iterable[UUID], now: datetime) -> Iterator[None]:
    """Take in a batch: what its readings and the clock say about these cases is settled once, after its last entry."""
    with settle.arriving():
        yield
    for uid in case_uids:
        with suppress(problems.NotFound), transaction.atomic():  # a case that was refused has its own problem
            finish(draft_for(access.case_for(actor, uid, lock=True), actor, now))


def note_clock_offset(actor: Actor, offset_seconds: float, case_uids: Iterable[UUID], now: datetime) -> None:
    """Raise `clock_offset` in each of these cases: `offset_seconds` is how far the sender's clock is ahead."""
    side = "ahead of" if offset_seconds > 0 else "behind"
    text = f"The unit's clock is {minutes_text(abs(offset_seconds) / 60)} {side} the server's"
    for uid in case_uids:
        with suppress(problems.NotFound):
            _raise(actor, uid, Cause("clock_offset", "clock", "low", text, now), now)


def _raise(actor: Actor, uid: UUID, cause: Cause, now: datetime) -> None:
    with transaction.atomic():
        draft = draft_for(access.case_for(actor, uid, lock=True), actor, now)
        draft.happened.append(cause)
        finish(draft)
