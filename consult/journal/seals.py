"""Seals: once a minute the heads of the journals that moved are signed and appended outside the database.

A digest chain shows what was changed in it, but not that its end was cut off: for that another must know the head. The
database in turn knows how far the seals go, so that neither can be cut off, or taken away, without the other.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, OuterRef

from consult.journal import seal_file
from consult.journal.seal_file import Heads, Place, Spoilt
from consult.models import Agency, Case, Heartbeat, JournalEntry, Sealing

NAME = "seal"
OVERLAP = timedelta(minutes=1)  # a write that began before the last seal may have been committed after it
Name = tuple[str, str | None]  # an agency, and its case; None: its own journal


def seal(now: datetime) -> int:
    """Append one signed line with the heads of the journals that moved since the last; the number of heads in it."""
    heads = _moved()
    with transaction.atomic():  # its commit puts on disk what is sealed: a batch does not wait for that (`statements`)
        Sealing.objects.select_for_update().get_or_create(pk=Sealing.ONLY)
    with transaction.atomic():
        if heads:
            known = Sealing.objects.select_for_update().get(pk=Sealing.ONLY)
            place = seal_file.append(_place(known), heads, now)
            known.lines, known.size, known.digest = place.lines, place.size, place.digest
            known.save()
        Heartbeat.objects.update_or_create(name=NAME, defaults={"at": now})
    return len(heads)


def _moved() -> Heads:
    last = Heartbeat.objects.filter(name=NAME).first()
    cases, agencies = Case.objects.filter(seq__gt=0), Agency.objects.filter(seq__gt=0)
    if last:
        cases = cases.filter(journal__received_at__gt=last.at - OVERLAP).distinct()
        new = JournalEntry.objects.filter(agency=OuterRef("pk"), case=None, received_at__gt=last.at - OVERLAP)
        agencies = agencies.filter(Exists(new))
    moved = [(str(agency), str(uid), seq, head) for agency, uid, seq, head in cases.values_list(*OF_A_CASE)]
    return moved + [(str(pk), None, seq, head) for pk, seq, head in agencies.values_list("pk", "seq", "head")]


OF_A_CASE = ("agency_id", "uid", "seq", "head")


def _place(known: Sealing | None) -> Place:
    return Place(known.lines, known.size, known.digest) if known else Place()


@dataclass(slots=True)
class Sealed:
    """What the file holds: the newest sealed head of each journal, how far it was read, the first thing wrong with it.

    The fault is the number of a line, and what is wrong from there on.
    """

    place: Place
    heads: dict[Name, tuple[int, str]] = field(default_factory=dict)
    fault: tuple[int, str] | None = None


def read(start: Place | None = None) -> Sealed:
    """Read the file from its beginning, or on from where it was read before; hold it against what is known of it."""
    start = start or Place()
    # Asked before the file is read: what is written meanwhile comes on top.
    known = max(_place(Sealing.objects.first()), start, key=lambda place: place.lines)
    found = Sealed(place=start if start.size <= seal_file.size() else Place())
    try:
        for place, heads in seal_file.read_on(found.place):
            if place.lines == known.lines and place.digest != known.digest:
                raise Spoilt(known.lines, "the line is another than was written")
            found.place = place
            found.heads |= {(agency, case): (seq, head) for agency, case, seq, head in heads}
    except Spoilt as spoilt:
        found.fault = (spoilt.line, spoilt.what)
    if found.fault is None and found.place.lines < known.lines:
        found.fault = (found.place.lines + 1, "the line is missing" if seal_file.size() else "the seals are missing")
    return found
