"""Reads the journal through: numbers without gaps, each digest covering the one before, heads as on the cases."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any
from uuid import UUID

import msgspec

from consult import digest
from consult.access import Actor
from consult.clock import stamp
from consult.journal import seals
from consult.journal.append import covered
from consult.models import Case, JournalEntry

Fault = dict[str, Any]


def fault_in(case: Case) -> Fault | None:
    """The first line of a case that is not as it was written; None where all are."""
    before, expected = "", 1
    for row in JournalEntry.objects.filter(case=case).order_by("seq").iterator(chunk_size=500):
        if row.seq != expected:
            return _fault(case, expected, "a line is missing")
        try:
            line = covered(row, case.uid, msgspec.json.decode(row.data), msgspec.json.decode(row.changes))
            chained = digest.chained_digest(before, line)
        except (msgspec.DecodeError, ValueError):
            return _fault(case, row.seq, "the line cannot be read")
        if chained != row.digest:
            return _fault(case, row.seq, "the line is not as it was written")
        before, expected = row.digest, row.seq + 1
    if case.seq != expected - 1 or case.head != before:
        return _fault(case, expected, "the end of the journal is missing")
    return None


def cut_off(case: Case, sealed: dict[str, tuple[int, str]]) -> Fault | None:
    """What a seal knows of a case and the journal does not: its end, or all of it, was replaced."""
    seq, head = sealed.get(str(case.uid), (0, ""))
    if not seq or JournalEntry.objects.filter(case=case, seq=seq, digest=head).exists():
        return None
    return _fault(case, seq, "a sealed line is missing")


def _fault(case: Case, seq: int, what: str) -> Fault:
    return {"case": str(case.uid), "seq": seq, "what": what}


def cases(agency: UUID | None = None) -> Iterator[Case]:
    """The cases to verify, oldest first."""
    found = Case.objects.order_by("pk")
    return (
        (found.filter(agency_id=agency) if agency else found).only("pk", "uid", "seq", "head").iterator(chunk_size=200)
    )


def verified(actor: Actor, case: Case | None, now: datetime) -> dict[str, Any]:
    """Whether the agency's journal, or one case's, is intact; `checked_to` counts what was read."""
    found, entries, first, sealed = 0, 0, None, seals.sealed_heads()
    for each in [case] if case else cases(actor.agency):
        found, entries = found + 1, entries + each.seq
        first = first or fault_in(each) or cut_off(each, sealed)
    checked = {"at": stamp(now), "cases": found, "entries": entries}
    return {"intact": first is None, "first_fault": first, "checked_to": checked}
