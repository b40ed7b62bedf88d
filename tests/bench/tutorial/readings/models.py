"""A reading as a row; saving one tells the group."""

from typing import Any

from asgiref.sync import async_to_sync
from channels.layers import get_channel_layer
from django.db import models
from django.db.models.signals import post_save
from django.dispatch import receiver


class Reading(models.Model):
    """One set of vitals."""

    id = models.UUIDField(primary_key=True)
    taken_at = models.DateTimeField()
    sbp = models.IntegerField()
    dbp = models.IntegerField()
    hr = models.IntegerField()
    rr = models.IntegerField()
    spo2 = models.IntegerField()
    etco2 = models.IntegerField()

    class Meta:
        app_label = "readings"


@receiver(post_save, sender=Reading)
def tell(instance: Reading, **_: Any) -> None:
    """Send the reading to everybody in the group."""
    values = {name: getattr(instance, name) for name in ("sbp", "dbp", "hr", "spo2")}
    async_to_sync(get_channel_layer().group_send)("board", {"type": "reading", "values": values})
