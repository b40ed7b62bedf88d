"""What is in hand: a mixed syringe, a hung bag, an oxygen cylinder."""

from __future__ import annotations

from django.db import models

from consult.models.fields import Correctable


class Container(Correctable):
    """A syringe, bag or cylinder from when it was mixed or hung until it is discarded; `data` as sent.

    A bag that an intervention hung shares its `uid`: the one entry in the journal stands for both.
    """

    class Form(models.TextChoices):
        SYRINGE = "syringe"
        BAG = "bag"
        CYLINDER = "cylinder"

    at = models.DateTimeField()
    form = models.CharField(max_length=8, choices=Form.choices)
    treatment = models.CharField(max_length=60, default="", blank=True)
    data = models.JSONField()
    hung_with = models.OneToOneField("consult.Intervention", models.PROTECT, null=True, related_name="hung")
    discarded_at = models.DateTimeField(null=True)
    discarded_because = models.CharField(max_length=200, default="", blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["case", "at"], name="container_order"),
            models.Index(fields=["case", "uid"], name="container_uid"),
        ]
