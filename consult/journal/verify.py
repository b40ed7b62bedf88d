"""Reads the journal through: numbers without gaps, each digest covering the one before, heads as on the cases."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from itertools import chain
from typing import Any
from uuid import UUID

import msgspec
from django.db.models import Exists, OuterRef, QuerySet

from consult import digest
from consult.access import Actor
from consult.clock import stamp
from consult.journal import seals
from consult.journal.append import Journal, covered, lines_of, name_of
from consult.models import Agency, Case, JournalCheck, JournalEntry

Fault = dict[str, Any]


def fault_in(journal: Journal) -> Fault | None:
    """The first line of a journal that is not as it was written; None where all are."""
    before, expected = "", 1
    for row in lines_of(journal).order_by("seq").iterator(chunk_size=500):
        if row.seq != expected:
            return _fault(journal, expected, "a line is missing")
        try:
            line = covered(row, journal, msgspec.json.decode(row.data), msgspec.json.decode(row.changes))
            chained = digest.chained_digest(before, line)
        except (msgspec.DecodeError, ValueError):
            return _fault(journal, row.seq, "the line cannot be read")
        if chained != row.digest:
            return _fault(journal, row.seq, "the line is not as it was written")
        before, expected = row.digest, row.seq + 1
    if journal.seq != expected - 1 or journal.head != before:
        return _fault(journal, expected, "the end of the journal is missing")
    return None


def cut_off(journal: Journal, sealed: dict[str, tuple[int, str]]) -> Fault | None:
    """What a seal knows of a journal and the journal does not: its end, or all of it, was replaced."""
    (name,) = name_of(journal).values()
    seq, head = sealed.get(name, (0, ""))
    if not seq or lines_of(journal).filter(seq=seq, digest=head).exists():
        return None
    return _fault(journal, seq, "a sealed line is missing")


def _fault(journal: Journal, seq: int, what: str) -> Fault:
    return {**name_of(journal), "seq": seq, "what": what}


def cases(agency: UUID | None = None) -> QuerySet[Case]:
    """The cases to verify, oldest first."""
    found = Case.objects.order_by("pk").only("pk", "uid", "seq", "head")
    return found.filter(agency_id=agency) if agency else found


def run(agency: UUID, now: datetime) -> JournalCheck:
    """Read an agency's own journal and those of all its cases, and keep what was found as its last run."""
    check = _checked(chain(_own(agency), cases(agency).iterator(chunk_size=200)))
    return JournalCheck.objects.create(agency_id=agency, at=now, **check)


def _own(agency: UUID) -> QuerySet[Agency]:
    return Agency.objects.filter(pk=agency)


def _checked(found: Iterable[Journal]) -> dict[str, Any]:
    count, entries, first, sealed = 0, 0, None, seals.sealed_heads()
    for journal in found:
        count, entries = count + isinstance(journal, Case), entries + journal.seq
        first = first or fault_in(journal) or cut_off(journal, sealed)
    return {"cases": count, "entries": entries, "first_fault": first}


def verified(actor: Actor, case: Case | None, now: datetime) -> dict[str, Any]:
    """Whether the journal is intact: of one case now, or of the agency by its last run and what came since.

    The agency's own lines are few, and are read each time.
    `checked_to` says up to when, and how much was read.
    """
    if case:
        return _answer(_checked([case]), now)
    last = JournalCheck.objects.filter(agency_id=actor.agency).order_by("-at").first()
    if last is None:
        return _answer(_checked(chain(_own(actor.agency), cases(actor.agency))), now)
    moved = JournalEntry.objects.filter(case=OuterRef("pk"), received_at__gte=last.at - seals.OVERLAP)
    since = _checked(chain(_own(actor.agency), cases(actor.agency).filter(Exists(moved))))
    whole = {"cases": last.cases, "entries": last.entries, "first_fault": last.first_fault or since["first_fault"]}
    return {**_answer(whole, now), "last_run_at": stamp(last.at), "since": {"cases": since["cases"]}}


def _answer(check: dict[str, Any], now: datetime) -> dict[str, Any]:
    first = check["first_fault"]
    checked = {"at": stamp(now), "cases": check["cases"], "entries": check["entries"]}
    return {"intact": first is None, "first_fault": first, "checked_to": checked}
