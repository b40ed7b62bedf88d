"""Rule sets as they were adopted: the file's content by its digest, and who approved it."""

from django.db import models

from consult.models.fields import new_id


class RuleSetRecord(models.Model):
    """One rule set as loaded; `content` is the file, so that a check can be understood years later."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    digest = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=60)
    version = models.CharField(max_length=30)
    content = models.TextField()
    approved_by = models.ForeignKey("consult.Membership", models.PROTECT, null=True, related_name="+")
    approved_at = models.DateTimeField(null=True)
