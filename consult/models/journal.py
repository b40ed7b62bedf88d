"""The journal, who read what, and the sweep's heartbeat."""

from django.db import models


class JournalEntry(models.Model):
    """One thing that happened in a case: append-only, numbered without gaps, each digest covering the one before.

    A line without a case belongs to the agency's own journal, such as the adoption of a rule set; it is chained alike.

    `entry` is the client's id (unique in the agency: the place where a retry is recognized), `content` the digest of
    what was sent, `subject` the primary key of the row that it made or moved, `answered` the seq that the sender was
    told. `version` is the event's own (`consult.events`), `changes` holds what this entry changed of the card
    (`consult.card_diff`).
    """

    agency = models.ForeignKey("consult.Agency", models.PROTECT, related_name="+", db_index=False)
    case = models.ForeignKey("consult.Case", models.PROTECT, null=True, related_name="journal", db_index=False)
    seq = models.PositiveIntegerField()
    kind = models.CharField(max_length=40)
    version = models.PositiveSmallIntegerField()
    at = models.DateTimeField()
    received_at = models.DateTimeField()
    late = models.BooleanField(default=False)
    by = models.ForeignKey("consult.Membership", models.PROTECT, null=True, related_name="+", db_index=False)
    by_name = models.CharField(max_length=120, default="", blank=True)
    by_role = models.CharField(max_length=12, default="", blank=True)
    data = models.TextField()
    changes = models.TextField()
    entry = models.UUIDField(null=True)
    content = models.CharField(max_length=64, default="", blank=True)
    subject = models.BigIntegerField(null=True)
    answered = models.PositiveIntegerField()
    digest = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["case", "seq"], name="journal_seq"),
            models.UniqueConstraint(fields=["agency", "seq"], condition=models.Q(case=None), name="agency_journal_seq"),
            models.UniqueConstraint(fields=["agency", "entry"], name="one_entry_per_id"),
        ]


class JournalCheck(models.Model):
    """A run through the whole journal of an agency: when it began, how much it read, the first fault.

    `sealed_to` is how far the seals were read with it: lines, size, digest.
    """

    agency = models.ForeignKey("consult.Agency", models.PROTECT, related_name="+")
    at = models.DateTimeField()
    cases = models.PositiveIntegerField()
    entries = models.PositiveBigIntegerField()
    first_fault = models.JSONField(null=True)
    sealed_to = models.JSONField()

    class Meta:
        indexes = [models.Index(fields=["agency", "-at"], name="journal_check_newest")]


class Sealing(models.Model):
    """How far the seals file goes: its lines, their bytes, the digest of the last; one row, there once it began."""

    ONLY = 1

    lines = models.PositiveIntegerField(default=0)
    size = models.PositiveBigIntegerField(default=0)
    digest = models.CharField(max_length=64, default="", blank=True)


class AccessRecord(models.Model):
    """That a person looked at a case."""

    case = models.ForeignKey("consult.Case", models.PROTECT, related_name="+")
    by = models.ForeignKey("consult.Membership", models.PROTECT, related_name="+")
    at = models.DateTimeField()
    what = models.CharField(max_length=40)


class LastLook(models.Model):
    """How far a person has seen the cases of the board: `heads` has each case's journal number by its id, until `at`.

    `cases_at` tells of the cases whose own page was open, by its id, when it last was.
    `away_from` and `away_to` are the numbers between which something happened while they were away, since
    `away_since`, until they have dismissed it.
    """

    membership = models.OneToOneField("consult.Membership", models.PROTECT, primary_key=True, related_name="+")
    at = models.DateTimeField()
    heads = models.JSONField(default=dict)
    cases_at = models.JSONField(default=dict)
    away_since = models.DateTimeField(null=True)
    away_from = models.JSONField(default=dict)
    away_to = models.JSONField(default=dict)


class Heartbeat(models.Model):
    """When a regular task last ran to its end, by name."""

    name = models.CharField(max_length=40, primary_key=True)
    at = models.DateTimeField()
