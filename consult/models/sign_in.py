"""Wrong passwords of late, so that whoever guesses has to wait."""

from __future__ import annotations

from django.db import models


class WrongPasswords(models.Model):
    """How many were tried in a row for an account, from a device that knows it, or from a network.

    `key` is the digest of what was tried for; `not_before` is when the next try may be made. Kept in the database,
    where every process counts alike and a restart forgets nothing: without it nobody could sign in anyway.
    """

    key = models.CharField(max_length=64, primary_key=True)
    count = models.PositiveIntegerField(default=0)
    not_before = models.DateTimeField()
    last_at = models.DateTimeField(db_index=True)
