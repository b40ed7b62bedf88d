"""Store and forward: what a batch says of its cases is settled once, after its last entry."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

from django.db import transaction

from consult import access, hints
from consult.access import Actor
from consult.actions.carry_out import Arrival, let_time_work
from consult.journal.append import lines_of
from consult.problems import Unavailable


@contextmanager
def arriving(actor: Actor, now: datetime) -> Iterator[Arrival]:
    """Take in a batch: what its readings and the clock say about the cases that it changed is settled at its end.

    Else a dose would be overdue for the moment until its reading, sent after it, is read. Then boards are told, too: of
    an entry at once only where it brings something about, such as an alert.

    No entry waits for the disk: the commit that settles its case takes it along, before the batch is answered. Raises
    Unavailable where the database forgot one between the two, so that the batch is sent again.
    """
    arrival = Arrival()
    yield arrival
    for uid, (seq, head) in arrival.cases.items():
        with transaction.atomic():
            case, _ = access.case_to_write(actor, uid)
            if not lines_of(case).filter(seq=seq, digest=head).exists():
                raise Unavailable
            let_time_work(case, now)
        hints.tell(case.pk, case.seq)
