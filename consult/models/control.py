"""Control of cases, offered to a colleague at the change of shift."""

from __future__ import annotations

from django.db import models

from consult.models.fields import Entry


class ControlOffer(Entry):
    """Control of one case, offered by who had it; `handover` is the same for all that are handed over together."""

    class State(models.TextChoices):
        OFFERED = "offered"
        ACCEPTED = "accepted"
        ENDED = "ended"  # kept, taken by somebody else, given up, offered anew, or the case is over

    handover = models.UUIDField()
    to = models.ForeignKey("consult.Membership", models.PROTECT, related_name="+", db_index=False)
    note = models.CharField(max_length=1000, default="", blank=True)
    state = models.CharField(max_length=8, choices=State.choices, default=State.OFFERED)
    ended_at = models.DateTimeField(null=True)

    class Meta:
        indexes = [
            models.Index(fields=["handover"], name="offer_handover"),
            models.Index(fields=["case", "uid"], name="offer_uid"),
            models.Index(fields=["by"], name="offer_by"),
            models.Index(fields=["to"], name="offer_to"),
        ]
