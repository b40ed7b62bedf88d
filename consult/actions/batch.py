"""Store and forward: what a batch says of its cases is settled once, after its last entry."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

from django.db import transaction

from consult import access
from consult.access import Actor
from consult.actions import settle
from consult.actions.entry import draft_for, finish


@contextmanager
def arriving(actor: Actor, now: datetime) -> Iterator[None]:
    """Take in a batch: what its readings and the clock say about the cases that it changed is settled at its end."""
    with settle.arriving() as changed:
        yield
    for uid in changed:
        with transaction.atomic():
            finish(draft_for(access.case_for(actor, uid, lock=True), actor, now))
