"""What every row made of a client's entry has in common."""

from __future__ import annotations

import uuid

from django.db import models
from uuid_utils.compat import uuid7


def new_id() -> uuid.UUID:
    """A version 7 UUID, for what the server makes and for entries whose sender gave none."""
    return uuid7()


class Entry(models.Model):
    """A row that a journal entry stands for: `uid` is the client's id, unique in its agency (journal's constraint).

    Its times are corrected by `clock_offset_s`, by so many seconds the sender's clock was behind; None: as sent.
    Two agencies may use the same id, so it is no primary key; `JournalEntry.subject` leads from it to the row.
    """

    uid = models.UUIDField(default=new_id, editable=False)
    case = models.ForeignKey("consult.Case", models.PROTECT, related_name="+", db_index=False)
    by = models.ForeignKey("consult.Membership", models.PROTECT, related_name="+", db_index=False)
    received_at = models.DateTimeField()
    clock_offset_s = models.BigIntegerField(null=True)
    seq = models.PositiveIntegerField()

    class Meta:
        abstract = True


class Correctable(Entry):
    """An entry that can be marked entered in error; it stays, and leaves every computation."""

    in_error = models.BooleanField(default=False)

    class Meta:
        abstract = True
