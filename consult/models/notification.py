"""Who outside of the board is told that an alert escalates, and what waits to be told."""

from django.db import models

from consult.models.fields import new_id


class Destination(models.Model):
    """Where an agency wants to be told: an e-mail address, or the address of a program that takes signed posts.

    `secret` signs the posts, encrypted under SECRET_KEY; `failing_since` is when the first of a row of failures was.
    """

    class How(models.TextChoices):
        EMAIL = "email"
        WEBHOOK = "webhook"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    agency = models.ForeignKey("consult.Agency", models.PROTECT, related_name="destinations")
    how = models.CharField(max_length=7, choices=How.choices)
    address = models.CharField(max_length=400)
    secret = models.CharField(max_length=200, default="", blank=True)
    ended_at = models.DateTimeField(null=True)
    failing_since = models.DateTimeField(null=True)
    failure = models.CharField(max_length=120, default="", blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["agency", "address"], condition=models.Q(ended_at=None), name="one_destination_per_address"
            )
        ]


class Notification(models.Model):
    """One escalation to be told to one destination: written with it in one transaction, deleted a month after its end.

    Its id goes along, so that whoever hears of it twice knows. `facts` hold nothing about the patient.
    """

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    destination = models.ForeignKey(Destination, models.PROTECT, related_name="notifications")
    facts = models.JSONField()
    made_at = models.DateTimeField()
    tries = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField(null=True)  # null once it was sent or given up
    sent_at = models.DateTimeField(null=True)

    class Meta:
        indexes = [
            models.Index(
                fields=["next_try_at"], condition=models.Q(next_try_at__isnull=False), name="notification_due"
            ),
            models.Index(fields=["made_at"], name="notification_made"),
        ]
