"""Reads the journal through: numbers without gaps, each digest covering the one before, heads as on the cases."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from itertools import chain
from typing import Any
from uuid import UUID

import msgspec
from django.db.models import Exists, OuterRef, Q, QuerySet

from consult.access import Actor
from consult.clock import stamp
from consult.journal import seals
from consult.journal.append import Journal, chained, covered, lines_of, name_of
from consult.journal.seal_file import Place
from consult.journal.seals import Sealed
from consult.models import Agency, Case, JournalCheck, JournalEntry

Fault = dict[str, Any]


def fault_in(journal: Journal) -> Fault | None:
    """The first line of a journal that is not as it was written; None where all are.

    Lines may be written meanwhile: a head that has moved since it was read is read again, with the lines up to it.
    """
    head: tuple[int, str] | None = None
    before, expected = "", 1
    while head != (journal.seq, journal.head):
        for row in lines_of(journal).filter(seq__gte=expected).order_by("seq").iterator(chunk_size=500):
            if row.seq != expected:
                return _fault(journal, expected, "a line is missing")
            if chained(before, row, journal) != row.digest:
                return _fault(journal, row.seq, "the line is not as it was written")
            before, expected = row.digest, row.seq + 1
        if (head := (journal.seq, journal.head)) == (expected - 1, before):
            return None
        journal.refresh_from_db(fields=("seq", "head"))
    return _fault(journal, expected, "the end of the journal is missing")


def texts_of(journals: Iterable[Journal]) -> Iterator[list[str]]:
    """Every line of these journals as the texts that its digest covers, and the digest (docs/journal.md)."""
    for journal in journals:
        for row in lines_of(journal).order_by("seq").iterator(chunk_size=500):
            yield [*covered(row, journal), row.digest]


def cut_off(journal: Journal, sealed: Sealed) -> Fault | None:
    """What a seal knows of a journal and the journal does not: its end, or all of it, was replaced."""
    seq, head = sealed.heads.get(_key(journal), (0, ""))
    if not seq or lines_of(journal).filter(seq=seq, digest=head).exists():
        return None
    return _fault(journal, seq, "a sealed line is missing")


def _key(journal: Journal) -> seals.Name:
    return (str(journal.agency_id), str(journal.uid)) if isinstance(journal, Case) else (str(journal.pk), None)


def taken_away(sealed: Sealed, agency: UUID | None = None) -> Iterator[Fault]:
    """The journals that a seal knows and that are not there at all, of one agency or of all."""
    found = {(str(of), str(uid)) for of, uid in cases(agency).values_list("agency_id", "uid")}
    agencies = {(str(pk), None) for pk in Agency.objects.values_list("pk", flat=True)}
    for name in sealed.heads.keys() - found - agencies:
        if agency in (None, UUID(name[0])):
            whose = {"case": name[1]} if name[1] else {"agency": name[0]}
            yield {**whose, "seq": sealed.heads[name][0], "what": "a sealed journal is missing"}


def in_the_seals(sealed: Sealed) -> Fault | None:
    """What is wrong with the seals themselves: from which line on, and what."""
    return {"seals_line": sealed.fault[0], "what": sealed.fault[1]} if sealed.fault else None


def _fault(journal: Journal, seq: int, what: str) -> Fault:
    return {**name_of(journal), "seq": seq, "what": what}


def cases(agency: UUID | None = None) -> QuerySet[Case]:
    """The cases to verify, oldest first."""
    found = Case.objects.order_by("pk").only("pk", "uid", "agency_id", "seq", "head")
    return found.filter(agency_id=agency) if agency else found


def run(agency: UUID, now: datetime, sealed: Sealed | None = None) -> JournalCheck:
    """Read an agency's own journal and those of all its cases, and keep what was found as its last run.

    `sealed` is the whole seals file, where it was read already.
    """
    sealed = sealed or seals.read()
    check = _checked(_journals(agency, cases(agency)), sealed)
    check["first_fault"] = check["first_fault"] or next(taken_away(sealed, agency), None)
    return JournalCheck.objects.create(agency_id=agency, at=now, sealed_to=msgspec.to_builtins(sealed.place), **check)


def _journals(agency: UUID, found: QuerySet[Case]) -> Iterator[Journal]:
    return chain(Agency.objects.filter(pk=agency), found.iterator(chunk_size=200))


def _checked(found: Iterable[Journal], sealed: Sealed) -> dict[str, Any]:
    count, entries, first = 0, 0, in_the_seals(sealed)
    for journal in found:
        count, entries = count + isinstance(journal, Case), entries + journal.seq
        first = first or fault_in(journal) or cut_off(journal, sealed)
    return {"cases": count, "entries": entries, "first_fault": first}


def verified(actor: Actor, case: Case | None, now: datetime) -> dict[str, Any]:
    """Whether the journal is intact: of one case now, or of the agency by its last run and what came since.

    The agency's own lines are few, and are read each time; of the seals those since that run, or since before the case.
    `checked_to` says up to when, and how much was read.
    """
    if case:
        before = JournalCheck.objects.filter(at__lt=case.received_at).order_by("-at").first()
        return _answer(_checked([case], seals.read(_read_to(before))), now)
    last = JournalCheck.objects.filter(agency_id=actor.agency).order_by("-at").first()
    if last is None:
        return _answer(_checked(_journals(actor.agency, cases(actor.agency)), seals.read()), now)
    moved = JournalEntry.objects.filter(case=OuterRef("pk"), received_at__gte=last.at - seals.OVERLAP)
    sealed = seals.read(_read_to(last))
    named = [case for agency, case in sealed.heads if case and agency == str(actor.agency)]
    came = cases(actor.agency).filter(Exists(moved) | Q(uid__in=named))
    since = _checked(_journals(actor.agency, came), sealed)
    whole = {"cases": last.cases, "entries": last.entries, "first_fault": last.first_fault or since["first_fault"]}
    return {**_answer(whole, now), "last_run_at": stamp(last.at), "since": {"cases": since["cases"]}}


def _read_to(check: JournalCheck | None) -> Place | None:
    return msgspec.convert(check.sealed_to, Place) if check else None


def _answer(check: dict[str, Any], now: datetime) -> dict[str, Any]:
    first = check["first_fault"]
    checked = {"at": stamp(now), "cases": check["cases"], "entries": check["entries"]}
    return {"intact": first is None, "first_fault": first, "checked_to": checked}
