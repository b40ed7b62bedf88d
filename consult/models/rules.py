"""Rule sets as they were adopted: the file's content by its digest, and who approved it; and drafts of the next."""

from django.db import models

from consult.models.fields import new_id
from dosing.load.reader import load_shipped


def is_demonstration(name: str) -> bool:
    """Whether this is the name of the demonstration that ships with the project: nobody approves what bears it."""
    return name.strip().casefold() == load_shipped("demonstration").name


class RuleSetRecord(models.Model):
    """One rule set as loaded; `content` is the file, so that a check can be understood years later.

    A record never changes: each adoption makes one of its own, for what one agency's director approved says nothing
    about another agency. The shipped sets have one record each that nobody has approved.
    """

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    digest = models.CharField(max_length=64)
    name = models.CharField(max_length=60)
    version = models.CharField(max_length=30)
    content = models.TextField()
    approved_by = models.ForeignKey("consult.Membership", models.PROTECT, null=True, related_name="+")
    approved_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["digest"], condition=models.Q(approved_at=None), name="one_unapproved_record_per_digest"
            ),
            models.CheckConstraint(
                condition=models.Q(approved_by=None, approved_at=None)
                | models.Q(approved_by__isnull=False, approved_at__isnull=False),
                name="approved_by_somebody_at_some_time",
            ),
        ]

    @property
    def approved(self) -> bool:
        """Whether a medical director has approved it: who puts the demonstration back in force approves nothing."""
        return self.approved_at is not None and not is_demonstration(self.name)


class RuleSetDraft(models.Model):
    """What a medical director is about to change, until it is adopted or dropped: one draft for each director.

    `changes` are plain values, each an `Amendment` (`dosing/rules/amended.py`), in the order in which they were made.
    """

    by = models.OneToOneField("consult.Membership", models.PROTECT, primary_key=True, related_name="+")
    changes = models.JSONField(default=list)
