"""Seals: once a minute the heads of the journals that moved are signed and appended outside the database.

A digest chain shows what was changed in it, but not that its end was cut off: for that another must know the head.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.core import signing
from django.db.models import Exists, OuterRef

from consult.clock import stamp
from consult.models import Agency, Case, Heartbeat, JournalEntry

NAME = "seal"
SALT = "consult.seals"
OVERLAP = timedelta(minutes=1)  # a write that began before the last seal may have been committed after it


def seal(now: datetime) -> int:
    """Append one signed line with the heads of the journals that moved since the last; the number of heads in it."""
    last = Heartbeat.objects.filter(name=NAME).first()
    moved, agencies = Case.objects.filter(seq__gt=0), Agency.objects.filter(seq__gt=0)
    if last:
        moved = moved.filter(journal__received_at__gt=last.at - OVERLAP).distinct()
        new = JournalEntry.objects.filter(agency=OuterRef("pk"), case=None, received_at__gt=last.at - OVERLAP)
        agencies = agencies.filter(Exists(new))
    rows = [*moved.values_list("uid", "seq", "head"), *agencies.values_list("pk", "seq", "head")]
    heads = [[str(uid), seq, head] for uid, seq, head in rows]
    if heads:
        line = signing.dumps({"at": stamp(now), "heads": heads}, salt=SALT, compress=True)
        settings.SEALS_FILE.parent.mkdir(parents=True, exist_ok=True)
        with settings.SEALS_FILE.open("a", encoding="ascii") as out:
            out.write(line + "\n")
    Heartbeat.objects.update_or_create(name=NAME, defaults={"at": now})
    return len(heads)


def sealed_heads() -> dict[str, tuple[int, str]]:
    """The newest sealed head of each case and agency; raises BadSignature where a line was tampered with."""
    heads: dict[str, tuple[int, str]] = {}
    if settings.SEALS_FILE.exists():
        for line in settings.SEALS_FILE.read_text(encoding="ascii").splitlines():
            for uid, seq, head in signing.loads(line, salt=SALT)["heads"]:
                heads[uid] = (seq, head)
    return heads
