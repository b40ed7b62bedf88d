"""What needs a person, and the readings that treatments ask for."""

from django.db import models

from consult.models.fields import new_id


class Alert(models.Model):
    """One thing that needs a person: raised once per case, kind and cause, open until its cause is gone."""

    class Priority(models.TextChoices):
        HIGH = "high"
        MEDIUM = "medium"
        LOW = "low"

    uid = models.UUIDField(unique=True, default=new_id, editable=False)
    case = models.ForeignKey("consult.Case", models.PROTECT, related_name="alerts")
    kind = models.CharField(max_length=30)
    cause = models.CharField(max_length=60)
    priority = models.CharField(max_length=6, choices=Priority.choices)
    text = models.CharField(max_length=500)
    raised_at = models.DateTimeField()
    acknowledged_at = models.DateTimeField(null=True)
    acknowledged_by = models.ForeignKey("consult.Membership", models.PROTECT, null=True, related_name="+")
    escalated_at = models.DateTimeField(null=True)
    escalated_to = models.CharField(max_length=12, default="", blank=True)
    cleared_at = models.DateTimeField(null=True)
    cleared_because = models.CharField(max_length=200, default="", blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["case", "kind", "cause"],
                condition=models.Q(cleared_at__isnull=True),
                name="one_open_alert_per_cause",
            )
        ]
        indexes = [models.Index(fields=["-raised_at", "-id"], name="alert_newest")]


class Reassessment(models.Model):
    """The reading that one intervention asks for."""

    class State(models.TextChoices):
        WAITING = "waiting"
        DONE = "done"
        OVERDUE = "overdue"
        UNKNOWN = "unknown"

    uid = models.UUIDField(editable=False)
    case = models.ForeignKey("consult.Case", models.PROTECT, related_name="reassessments")
    intervention = models.ForeignKey("consult.Intervention", models.PROTECT, related_name="reassessments")
    because = models.CharField(max_length=200)
    counts_from = models.DateTimeField()
    needs = models.JSONField()
    also = models.JSONField(default=list)
    due_at = models.DateTimeField()
    overdue_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True)
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)

    class Meta:
        indexes = [models.Index(fields=["case", "uid"], name="reassessment_uid")]
