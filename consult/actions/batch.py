"""Store and forward: what a batch says of its cases is settled once, after its last entry."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

from django.db import transaction

from consult import access, hints
from consult.access import Actor
from consult.actions.carry_out import Arrival, let_time_work


@contextmanager
def arriving(actor: Actor, now: datetime) -> Iterator[Arrival]:
    """Take in a batch: what its readings and the clock say about the cases that it changed is settled at its end.

    Else a dose would be overdue for the moment until its reading, sent after it, is read. Then boards are told, too: of
    an entry at once only where it brings something about, such as an alert.
    """
    arrival = Arrival()
    yield arrival
    for uid in arrival.cases:
        with transaction.atomic():
            let_time_work(case := access.case_for(actor, uid, lock=True), now)
        hints.tell(case.pk, case.seq)
